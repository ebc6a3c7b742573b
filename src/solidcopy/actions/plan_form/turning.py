"""A field filled in another way: a number, a spread, swept; and one of several ways taken."""

from typing import Any

from solidcopy.actions.plan_form import words
from solidcopy.actions.plan_form.description import PlanForm, Table, Way
from solidcopy.actions.plan_form.document import Edit, Put, Take
from solidcopy.actions.plan_form.finding import field_at, kinds_of, shape_of, table_at, value_at
from solidcopy.actions.plan_form.shapes import Shape
from solidcopy.actions.plan_form.sweeps import middle_between, number_edit, sweep_here
from solidcopy.errors import PlanError
from solidcopy.impairments.level import AXIS, MAP
from solidcopy.trials.faults import Place, field_words

SWEPT = (AXIS, MAP)


def turn_edits(form: PlanForm, values: dict[str, Any], place: Place, form_name: str) -> list[Edit]:
    """Fill a field in the way of another of its shapes, beginning with a sensible value.

    Args:
        form_name: of the shape, or a kind of the tables it may hold; "nothing": it is left out.
    Raises: PlanError if the field has no such shape.
    """
    field = field_at(form, values, place)
    if form_name == "nothing":
        return [Take(place)] if value_at(values, place) is not None else []
    shape = shape_of(field, form_name) if field is not None else None
    if shape is None and field is not None and form_name in kinds_of(form, field):
        return [Put(place, words.start_of_kind(form_name))]
    if field is None or shape is None:
        raise PlanError(f"{field_words(place)}: it cannot be filled as {form_name!r}")
    if form_name in SWEPT:
        return sweep_here(form, values, place, form_name)
    return [Put(place, _start_for(form, values, place, shape))]


def _start_for(form: PlanForm, values: dict[str, Any], place: Place, shape: Shape) -> Any:
    """What a field holds first in the way of a shape."""
    now, start = value_at(values, place), words.start_of(str(place[-1]))
    if shape.form == "number":
        return _number_for(form, values, place, now)
    if shape.form == "word":
        return shape.choices[0].value
    return _spread_around(now, start) if shape.tables == ("Spread",) else start or {}


def _number_for(form: PlanForm, values: dict[str, Any], place: Place, now: Any) -> Any:
    """Middle of the spread or of the axis that a field had; else what it begins with."""
    if isinstance(now, dict):
        middle = middle_between([now.get("low"), now.get("high")])
        if middle is not None:
            return middle
    if now in SWEPT:
        edit = number_edit(form, values, place, str(now))
        if isinstance(edit, Put):
            return edit.value
    return words.start_of(str(place[-1])) or 0


def _spread_around(now: Any, start: Any) -> dict[str, float]:
    middle = middle_between([now]) or start or 0
    reach = abs(middle) / 2 or 0.5
    return {"low": middle - reach, "high": middle + reach}


def way_edits(form: PlanForm, values: dict[str, Any], place: Place, name: str) -> list[Edit]:
    """Say something in another way: the fields of the others go. What was swept stays swept.

    Args:
        place: of the table.
        name: first field of the way.
    Raises: PlanError if there is no such way.
    """
    table = table_at(form, values, place)
    taken, others = _ways_of(table, name)
    if table is None or taken is None:
        raise PlanError(f"{field_words((*place, name))}: there is no such way to say it")
    found = value_at(values, place)
    here = found if isinstance(found, dict) else {}
    gone = [field for field in others if field in here]
    swept = next((here[field] for field in gone if here[field] in SWEPT), None)
    edits: list[Edit] = [Take((*place, field)) for field in gone]
    for field in taken.fields:
        if here.get(field) in (None, False):
            known = table.field(field)
            keeps = swept is not None and known is not None and shape_of(known, AXIS) is not None
            edits.append(Put((*place, field), swept if keeps else words.start_of(field)))
    return edits


def _ways_of(table: Table | None, name: str) -> tuple[Way | None, list[str]]:
    """The way that begins with a field, and the fields of the ways beside it."""
    for group in table.ways if table is not None else ():
        for way in group.ways:
            if way.fields[0] == name:
                beside = [
                    field for other in group.ways if other is not way for field in other.fields
                ]
                return way, [field for field in beside if field not in way.fields]
    return None, []
