"""What each change of the form does to the text of a plan."""

from copy import deepcopy
from typing import Any

from solidcopy.actions.plan_form import words
from solidcopy.actions.plan_form.changes import (
    Add,
    Change,
    Double,
    Move,
    SetField,
    Sweep,
    TakeOut,
    TakeStop,
    TakeWay,
    Turn,
)
from solidcopy.actions.plan_form.description import PlanForm
from solidcopy.actions.plan_form.document import Edit, Insert, Put, Take
from solidcopy.actions.plan_form.finding import (
    field_at,
    kinds_of,
    shape_of,
    tables_at,
    value_at,
)
from solidcopy.actions.plan_form.sweeps import sweep_edits, sweep_here
from solidcopy.actions.plan_form.turning import SWEPT, turn_edits, way_edits
from solidcopy.actions.plan_form.typed import typed_value
from solidcopy.errors import PlanError
from solidcopy.impairments.level import AXIS
from solidcopy.trials.condition import MAX_NAME
from solidcopy.trials.faults import Place, field_words


def edits_of(form: PlanForm, values: dict[str, Any], change: Change) -> list[Edit]:  # noqa: PLR0911
    """The edits that carry a change out.

    Args:
        form: the form of plans.
        values: the plan as parsed, faulty or not.
        change: as a page sends it.
    Raises: PlanError if the place or what is chosen is not there.
    """
    match change:
        case SetField():
            return _set(form, values, tuple(change.place), change.value)
        case Turn():
            return turn_edits(form, values, tuple(change.place), change.form)
        case TakeWay():
            return way_edits(form, values, tuple(change.place), change.field)
        case Add():
            return _add(form, values, tuple(change.place), change)
        case Double():
            return _double(values, tuple(change.place))
        case TakeOut():
            _item(values, tuple(change.place))
            return [Take(tuple(change.place))]
        case Move():
            return _move(values, tuple(change.place), change.by)
        case Sweep():
            return sweep_edits(form, values, change.by, change.key)
        case TakeStop():
            return _take_stop(values, change.preset)


def _set(form: PlanForm, values: dict[str, Any], place: Place, value: Any) -> list[Edit]:
    field = field_at(form, values, place)
    new = typed_value(field, value)
    if new in SWEPT and field is not None and shape_of(field, str(new)):
        return sweep_here(form, values, place, str(new))
    if new is None:
        return [Take(place)] if value_at(values, place) is not None else []
    return [Put(place, new)]


def _add(form: PlanForm, values: dict[str, Any], place: Place, change: Add) -> list[Edit]:
    items = value_at(values, place)
    end = (*place, len(items) if isinstance(items, list) else 0)
    if place == ("conditions",):
        return [Insert(end, _new_condition(values))]
    if change.preset is not None:
        made = words.preset(str(place[-1]), change.preset)
        if made is None:
            raise PlanError(f"there is no preset {change.preset!r} for {place[-1]}")
        return [Insert(end, _fitting(form, values, place, made))]
    made = words.start_of_kind(change.kind or "")
    field = field_at(form, values, place)
    if made is None or field is None or change.kind not in kinds_of(form, field):
        raise PlanError(f"{field_words(place)}: there is no {change.kind!r} to add")
    return [Insert(end, made)]


def _fitting(form: PlanForm, values: dict[str, Any], place: Place, made: dict[str, Any]) -> Any:
    """A preset as it fits in: one swept field in a condition, a name of its own, a file there."""
    if place[-1] == "receivers":
        taken = [one.get("name") for one in tables_at(values, ("receivers",))] or ["builtin"]
        return {**made, "name": free_name(made["name"], taken)}
    condition = value_at(values, place[:-1])
    if _says(condition, AXIS):
        made = {
            name: words.start_of(name) if value == AXIS else value for name, value in made.items()
        }
    if "file" in made:
        field = form.tables["OwnRecording"].field("file")
        choices = field.shapes[0].choices if field else ()
        made["file"] = str(choices[0].value) if choices else made["file"]
    return made


def _says(condition: Any, word: str) -> bool:
    sending = value_at(condition, ("sending",))
    parts = [sending if isinstance(sending, dict) else {}, *tables_at(condition, ("impairments",))]
    return any(word in part.values() for part in parts)


def _new_condition(values: dict[str, Any]) -> dict[str, Any]:
    """A condition with the noise of the first, so that it can be compared with it."""
    impairments = tables_at(values, ("conditions", 0, "impairments"))
    kept = [one for one in impairments if "snr_db" in one]
    taken = [one.get("name") for one in tables_at(values, ("conditions",))]
    noise = deepcopy(kept) or [{"kind": "gaussian-noise", "snr_db": AXIS}]
    return {"name": free_name("another condition", taken), "impairments": noise}


def _double(values: dict[str, Any], place: Place) -> list[Edit]:
    made = deepcopy(_item(values, place))
    siblings = value_at(values, place[:-1])
    if isinstance(made, dict) and isinstance(made.get("name"), str):
        taken = [value_at(one, ("name",)) for one in siblings]
        made["name"] = free_name(made["name"], taken)
    return [Insert((*place[:-1], int(place[-1]) + 1), made)]


def _move(values: dict[str, Any], place: Place, by: int) -> list[Edit]:
    made = deepcopy(_item(values, place))
    to = int(place[-1]) + by
    if not 0 <= to < len(value_at(values, place[:-1])):
        return []
    return [Take(place), Insert((*place[:-1], to), made)]


def _item(values: dict[str, Any], place: Place) -> Any:
    """An item of a list. Raises PlanError if there is none at that place."""
    item = value_at(values, place)
    if item is None or not isinstance(value_at(values, place[:-1]), list):
        raise PlanError(f"{field_words(place)}: it is not there any more; read the plan again")
    return item


def _take_stop(values: dict[str, Any], name: str) -> list[Edit]:
    made = words.preset("stops", name)
    if made is None:
        raise PlanError(f"stop: there is no preset {name!r}")
    here = values.get("stop")
    if not isinstance(here, dict):
        return [Put(("stop",), made)]
    edits: list[Edit] = [Take(("stop", field)) for field in here if field not in made]
    return edits + [
        Put(("stop", field), value) for field, value in made.items() if here.get(field) != value
    ]


def free_name(name: str, taken: list[Any]) -> str:
    """The name, or the name with the first number behind it that is not taken."""
    number, free = 2, name[:MAX_NAME]
    while free in taken:
        free, number = f"{name[: MAX_NAME - 4]} {number}", number + 1
    return free
