"""Which field the axis or the map runs over: what may be chosen, and the choice carried out."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field as Said

from solidcopy.actions.plan_form import words
from solidcopy.actions.plan_form.description import FormField, PlanForm, Table
from solidcopy.actions.plan_form.document import Edit, Put, Take
from solidcopy.actions.plan_form.finding import field_at, shape_of, table_at, value_at
from solidcopy.errors import PlanError
from solidcopy.impairments.level import MAP
from solidcopy.trials.faults import Place
from solidcopy.trials.plan import LEVEL_FIELDS

LARGEST = 1e9
"""A number beyond is no field's."""
OWN_STEPS = 10
"""A field of which nothing else is known is swept in so many steps around what it is now."""


@dataclass(frozen=True, slots=True)
class SweepChoice:
    """A field that could be swept."""

    key: Annotated[str, Said(description="to choose it by")]
    words: Annotated[str, Said(description="the field and what it belongs to")]
    is_chosen: Annotated[bool, Said(description="it is the one that is swept now")]


@dataclass(frozen=True, slots=True)
class _Candidate:
    key: str
    field: FormField
    owner: str
    place: Place


def sweep_choices(form: PlanForm, values: dict[str, Any], word: str) -> list[SweepChoice]:
    """What could be swept by the axis (every condition must have it) or the map (some must).

    Args:
        form: the form of plans.
        values: a plan as parsed, faulty or not.
        word: "axis" or "map".
    """
    found = [list(_candidates(form, values, number)) for number in _condition_numbers(values)]
    by_key = {one.key: one for each in found for one in each}
    is_everywhere = {key: all(key in {one.key for one in each} for each in found) for key in by_key}
    choices = []
    for key, one in by_key.items():
        chosen = any(
            value_at(values, other.place) == word
            for each in found
            for other in each
            if other.key == key
        )
        if chosen or word == MAP or is_everywhere[key]:
            unit = f" ({one.field.unit})" if one.field.unit else ""
            said = f"{one.field.label}{unit}" + (f": {one.owner}" if one.owner else "")
            choices.append(SweepChoice(key, said, chosen))
    return choices


def sweep_edits(form: PlanForm, values: dict[str, Any], word: str, key: str) -> list[Edit]:
    """Sweep a field in every condition that has it; what was swept becomes one number.

    Args:
        key: of a choice; empty: nothing is swept any more, and a map is taken out.
    Raises: PlanError if there is no such choice.
    """
    edits: list[Edit] = []
    chosen: list[_Candidate] = []
    for number in _condition_numbers(values):
        named = [one for one in _candidates(form, values, number) if one.key == key]
        chosen += named[:1]
        edits += _as_numbers(form, values, number, word, but=[one.place for one in named[:1]])
    if key and not chosen:
        raise PlanError(f"{word}: there is nothing of that name to run over; choose another field")
    edits += [Put(one.place, word) for one in chosen if value_at(values, one.place) != word]
    is_new = any(isinstance(edit, Put) and edit.value == word for edit in edits)
    if not key and word in values:
        edits.append(Take((word,)))
    elif is_new and (
        chosen[0].field.name != _swept_field(form, values, word) or word not in values
    ):
        edits.append(Put((word,), _range_of(chosen[0], values, word)))
    return edits


def sweep_here(form: PlanForm, values: dict[str, Any], place: Place, word: str) -> list[Edit]:
    """Sweep one field of one condition; another one that it swept becomes a number."""
    number = place[1] if len(place) > 1 and place[0] == "conditions" else None
    if not isinstance(number, int):
        raise PlanError(f'only a field of a condition can say "{word}"')
    return [*_as_numbers(form, values, number, word, but=[place]), Put(place, word)]


def middle_of(values: dict[str, Any], word: str) -> float | int | None:
    """Middle of what the axis or the map runs over; None if that is not to be had."""
    ends = values.get(word)
    if not isinstance(ends, dict):
        return None
    numbers = ends.get("values") or [ends.get("start"), ends.get("stop")]
    return middle_between(numbers) if isinstance(numbers, list) else None


def middle_between(numbers: list[Any]) -> float | int | None:
    """Middle of the smallest and the largest; None if they are no numbers of a usual size."""
    if not all(isinstance(one, int | float) and abs(one) <= LARGEST for one in numbers):
        return None
    middle = round((min(numbers) + max(numbers)) / 2, 3)
    return int(middle) if middle == int(middle) else middle


def _condition_numbers(values: dict[str, Any]) -> range:
    conditions = values.get("conditions")
    return range(len(conditions)) if isinstance(conditions, list) else range(0)


def _candidates(form: PlanForm, values: dict[str, Any], number: int) -> Iterator[_Candidate]:
    """Fields of a condition that may say "axis" and have a value or a default."""
    base: Place = ("conditions", number)
    sending = form.tables["Sending"]
    yield from _of_table(sending, values, (*base, "sending"), "how the signal is sent", "sending")
    impairments = value_at(values, (*base, "impairments"))
    for place in range(len(impairments) if isinstance(impairments, list) else 0):
        at: Place = (*base, "impairments", place)
        table = table_at(form, values, at)
        if table is not None and table.kind is not None:
            yield from _of_table(table, values, at, table.title, table.kind)


def _of_table(
    table: Table, values: dict[str, Any], at: Place, owner: str, kind: str
) -> Iterator[_Candidate]:
    for field in table.fields:
        is_there = value_at(values, (*at, field.name)) is not None
        if shape_of(field, "axis") is None or not (is_there or field.default_words):
            continue
        # A level means the same in every impairment, so conditions may sweep different ones.
        is_level = field.name in LEVEL_FIELDS
        key = f"level.{field.name}" if is_level else f"{kind}.{field.name}"
        yield _Candidate(key, field, "" if is_level else owner, (*at, field.name))


def _swept_field(form: PlanForm, values: dict[str, Any], word: str) -> str | None:
    for number in _condition_numbers(values):
        for one in _candidates(form, values, number):
            if value_at(values, one.place) == word:
                return one.field.name
    return None


def _as_numbers(
    form: PlanForm, values: dict[str, Any], number: int, word: str, *, but: list[Place]
) -> list[Edit]:
    """The fields of a condition that are swept, each as the number that it would have."""
    edits: list[Edit] = []
    for one in _candidates(form, values, number):
        if value_at(values, one.place) == word and one.place not in but:
            edits.append(number_edit(form, values, one.place, word))
    return edits


def number_edit(form: PlanForm, values: dict[str, Any], place: Place, word: str) -> Edit:
    """One number in place of "axis" or "map": the default if there is one, else the middle."""
    field = field_at(form, values, place)
    if field is not None and field.default_words:
        return Take(place)
    middle = middle_of(values, word)
    start = words.start_of(str(place[-1]))
    return Put(place, middle if middle is not None else start if start is not None else 0)


def _range_of(one: _Candidate, values: dict[str, Any], word: str) -> dict[str, Any]:
    """What a field runs over when it is swept anew; where trials go stays."""
    made = words.sweep_of(one.field.name)
    if made is None:
        now = value_at(values, one.place)
        middle = middle_between([now]) or 0
        size = abs(middle) or 1
        made = {"start": middle - size, "stop": middle + size, "step": 2 * size / OWN_STEPS}
    kept = values.get(word)
    if isinstance(kept, dict) and "placement" in kept:
        made["placement"] = kept["placement"]
    return made
