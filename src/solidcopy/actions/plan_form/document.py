"""The text of a plan as a document in which single places change and all else stays."""

import tomllib
from collections.abc import Callable, Iterable
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from solidcopy.actions.toml_text import plan_toml, toml_value
from solidcopy.errors import PlanError
from solidcopy.trials.faults import Place

MARK = "place-that-is-looked-for"
"""Put into a copy of a document to find a line; no plan holds it."""

MOST_DEPTH = 20
"""Of tables and lists in one another; plans need 8."""
_TOO_DEEP = f"is not a plan: tables and lists stand more than {MOST_DEPTH} deep in one another"


@dataclass(frozen=True, slots=True)
class Put:
    """A value at a place; tables on the way are made."""

    place: Place
    value: Any


@dataclass(frozen=True, slots=True)
class Take:
    """Nothing at a place any more."""

    place: Place


@dataclass(frozen=True, slots=True)
class Insert:
    """A new item of a list, which is made if it is not there."""

    place: Place
    """Of the item."""
    value: Any


Edit = Put | Take | Insert


@dataclass(frozen=True, slots=True)
class Edited:
    """A changed text.

    Args:
        n_remarks_lost: comments that went with what was taken out or written anew.
    """

    text: str
    values: dict[str, Any]
    n_remarks_lost: int


def read_toml(text: str) -> dict[str, Any]:
    """Values of a text. Raises PlanError as the command line says it."""
    try:
        values = tomllib.loads(text)
    except ValueError as error:  # of the grammar, or an integer of thousands of digits
        raise PlanError(f"is not valid TOML: {error}") from None
    except RecursionError:
        raise PlanError(_TOO_DEEP) from None
    inside: list[Any] = [values]
    for _ in range(MOST_DEPTH):
        inside = [one for holder in inside if _is_holder(holder) for one in _items(holder)]
    if inside:
        raise PlanError(_TOO_DEEP)
    return values


def _items(holder: Any) -> Any:
    return holder.values() if isinstance(holder, dict) else holder


def edited(text: str, edits: Iterable[Edit]) -> Edited:
    """The text after some edits; remarks, order and layout of all else stay.

    Where the document cannot be changed in place, the whole text is written anew, and its remarks
    are lost: the values are right in any case.

    Raises: PlanError if the text is not TOML, or a place is not there.
    """
    values = read_toml(text)
    edits = tuple(edits)
    try:
        for edit in edits:
            _apply(values, edit, lambda value, _: deepcopy(value))
    except (LookupError, TypeError, AttributeError):
        raise PlanError("the place to be changed is not in the plan: read it again") from None
    new_text = _in_place(text, edits)
    if new_text is None or _values_or_none(new_text) != values:
        new_text = plan_toml(values)
    return Edited(new_text, values, max(0, _n_remarks(text) - _n_remarks(new_text)))


def line_of(text: str, place: Place) -> int | None:
    """Line (from 1) of a place; of what holds it if it is not there; None for the whole plan."""
    try:
        document = tomlkit.parse(text)
        found = _mark(document, place)
        lines = document.as_string().split("\n")
    except (TOMLKitError, LookupError, TypeError, ValueError, AttributeError):
        return None
    if not found:
        return None
    return next((number for number, line in enumerate(lines, 1) if MARK in line), None)


def _mark(document: Any, place: Place) -> bool:
    """Put the mark at a place, or at the deepest part of it that is there."""
    holder, steps = document, list(place)
    while len(steps) > 1 and _has(holder, steps[0]) and _is_holder(holder[steps[0]]):
        holder = holder[steps.pop(0)]
    if not steps or (holder is document and not _has(holder, steps[0])):
        return False
    key = steps[0] if _has(holder, steps[0]) else _first(holder)
    while key is not None and _is_holder(holder[key]) and len(holder[key]):
        holder = holder[key]
        key = _first(holder)
    if key is None:
        return False
    holder[key] = MARK
    return True


def _is_holder(node: Any) -> bool:
    return isinstance(node, dict | list)


def _has(holder: Any, step: str | int) -> bool:
    if isinstance(holder, dict):
        return step in holder
    return isinstance(step, int) and 0 <= step < len(holder)


def _first(holder: Any) -> str | int | None:
    if isinstance(holder, dict):
        return next(iter(holder), None)
    return 0 if len(holder) else None


Made = Callable[[Any, Any], Any]
"""A value as a holder takes it up: (value, holder) -> item."""


def _apply(root: Any, edit: Edit, made: Made) -> None:
    """One edit of plain values, or of a document: both are dicts and lists."""
    edit = _from_the_first_gap(root, edit)
    holder = root
    for step in edit.place[:-1]:
        holder = holder[step]
    key = edit.place[-1]
    if isinstance(holder, dict) != isinstance(key, str):
        raise TypeError("keys are for tables, places for lists")
    match edit:
        case Take():
            del holder[key]
        case Put():
            holder[key] = made(edit.value, holder)
        case Insert():
            holder.insert(key, made(edit.value, holder))


def _from_the_first_gap(root: Any, edit: Edit) -> Edit:
    """An edit below something that is not there as one that puts this in whole."""
    if isinstance(edit, Take):
        return edit
    holder = root
    for depth, step in enumerate(edit.place[:-1], 1):
        if isinstance(holder, dict) and step not in holder:
            value = [edit.value] if isinstance(edit, Insert) else edit.value
            names = edit.place[depth : -1 if isinstance(edit, Insert) else None]
            for name in reversed(names):
                if not isinstance(name, str):
                    raise TypeError("there is no list to put an item into")
                value = {name: value}
            return Put(edit.place[:depth], value)
        holder = holder[step]
    return edit


def _in_place(text: str, edits: Iterable[Edit]) -> str | None:
    """The text with its document edited; None if that does not work."""
    try:
        document = tomlkit.parse(text)
        for edit in edits:
            _apply(document, edit, _item)
        return document.as_string()
    except (TOMLKitError, LookupError, TypeError, ValueError, AttributeError):
        return None


def _item(value: Any, holder: Any) -> Any:
    """A value as a piece of a document, in the style of the starting plans."""
    is_tables = isinstance(value, list) and value and all(isinstance(one, dict) for one in value)
    if isinstance(holder, AoT):
        return tomlkit.parse(plan_toml({"items": [value]}) + "\n")["items"][0]
    if isinstance(holder, tomlkit.TOMLDocument) and (is_tables or isinstance(value, dict)):
        return tomlkit.parse("\n" + plan_toml({"item": value}))["item"]
    if is_tables:
        lines = "".join(f"    {toml_value(item)},\n" for item in value)
        return tomlkit.value(f"[\n{lines}]")
    return tomlkit.value(toml_value(value))


def _values_or_none(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _n_remarks(text: str) -> int:
    """Comments of a text, counted roughly: signs in strings count in both of two texts alike."""
    return text.count("#")
