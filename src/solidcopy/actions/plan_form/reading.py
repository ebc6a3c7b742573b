"""A plan's text as the form shows it: values, what is wrong at which field, what may be swept."""

import re
from dataclasses import dataclass, replace
from datetime import date, time
from typing import Annotated, Any

from pydantic import Field as Said
from pydantic import JsonValue

from solidcopy.actions.check_plan import most_trials
from solidcopy.actions.edit_plan import checked_plan
from solidcopy.actions.plan_form.changes import Change
from solidcopy.actions.plan_form.changing import edits_of
from solidcopy.actions.plan_form.description import PlanForm, plan_form
from solidcopy.actions.plan_form.document import edited, line_of, read_toml
from solidcopy.actions.plan_form.finding import value_at
from solidcopy.actions.plan_form.sweeps import SweepChoice, sweep_choices
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import Fault, PlanError
from solidcopy.impairments.level import AXIS, MAP
from solidcopy.trials.faults import Place, field_words

LARGEST_SAFE = 2**53 - 1
"""Whole numbers beyond are not exact in a browser: they travel as text."""
_LINE = re.compile(r"at line (\d+)")
_AT_END = "at end of document"
_NAMES = re.compile(r"`(\w+)`|^(\w+)|\b(\w+_\w+|conditions|receivers)\b")


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """What is wrong at one field."""

    place: Annotated[tuple[str | int, ...], Said(description="keys and places (from 0)")]
    field: Annotated[str, Said(description="as the command line names it")]
    sentence: Annotated[str, Said(description="what is allowed, and what was given")]
    line: Annotated[int | None, Said(description="of the text, from 1")]


@dataclass(frozen=True, slots=True)
class FormState:
    """A plan's text and what the form shows of it."""

    text: Annotated[str, Said(description="the plan as TOML")]
    values: Annotated[
        dict[str, JsonValue] | None, Said(description="as parsed; null: the text is no TOML")
    ]
    problems: tuple[FieldProblem, ...]
    sweeps: Annotated[tuple[SweepChoice, ...], Said(description="what the axis can run over")]
    maps: Annotated[tuple[SweepChoice, ...], Said(description="what a map can run over")]
    n_trials_at_most: Annotated[int | None, Said(description="null: it is no plan yet")]
    n_remarks_lost: Annotated[
        int, Said(description="comments that went with what the last change took out")
    ] = 0


def read_form(workspace: Workspace, name: str, text: str) -> FormState:
    """What the form shows of a text.

    Args:
        workspace: the bench folder.
        name: of the plan that the text is, or will be.
        text: TOML, faulty or not.
    """
    try:
        values = read_toml(text)
    except PlanError as error:
        return FormState(text, None, (_whole(error, text),), (), (), None)
    problems: tuple[FieldProblem, ...] = ()
    n_trials = None
    try:
        n_trials = most_trials(checked_plan(workspace, name, text))
    except PlanError as error:
        said = str(error).removeprefix(f"{workspace.plan(name)}: ")
        whole = Fault((), field_words(()), said)
        faults = [_sharper(fault, values) for fault in error.faults or (whole,)]
        problems = tuple(
            FieldProblem(fault.place, fault.field, fault.sentence, line_of(text, fault.place))
            for fault in faults
        )
    form = form_of(workspace)
    return FormState(
        text=text,
        values=as_json(values),
        problems=problems,
        sweeps=tuple(sweep_choices(form, values, AXIS)),
        maps=tuple(sweep_choices(form, values, MAP)),
        n_trials_at_most=n_trials,
    )


def change_form(workspace: Workspace, name: str, text: str, change: Change) -> FormState:
    """What the form shows after a change; the rest of the text, remarks too, stays.

    Raises: PlanError if the text is no TOML or the place is not there.
    """
    made = edited(text, edits_of(form_of(workspace), read_toml(text), change))
    state = read_form(workspace, name, made.text)
    return replace(state, n_remarks_lost=made.n_remarks_lost)


def form_of(workspace: Workspace) -> PlanForm:
    """The form of plans, with the recordings of the bench folder to choose from."""
    files = (workspace.recording(name) for name in workspace.recordings())
    return plan_form([file.relative_to(workspace.folder).as_posix() for file in files])


def as_json(value: Any) -> Any:
    """Parsed TOML as JSON holds it without loss: dates, infinities and huge numbers as text."""
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    if isinstance(value, date | time):
        return value.isoformat()
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return str(value) if is_number and not abs(value) <= LARGEST_SAFE else value


def _whole(error: PlanError, text: str) -> FieldProblem:
    """What is wrong with a text that is no TOML."""
    found = _LINE.search(str(error))
    line = int(found[1]) if found else len(text.splitlines()) if _AT_END in str(error) else None
    return FieldProblem((), "the plan", str(error), line)


def _sharper(fault: Fault, values: Any) -> Fault:
    """The same at the field or condition that its sentence names, if it stands at a table."""
    inside = value_at(values, fault.place)
    further = _named(fault.sentence, inside)
    place = (*fault.place, *further)
    return Fault(place, field_words(place), fault.sentence) if further else fault


def _named(sentence: str, inside: Any) -> Place:
    """What a sentence about a table or list speaks of: a condition by its name, or a field."""
    conditions = inside.get("conditions") if isinstance(inside, dict) else inside
    if isinstance(conditions, list):
        names = [value_at(one, ("name",)) for one in conditions]
        for number, name in enumerate(names):
            if name and f'condition "{name}"' in sentence:
                return (number,) if conditions is inside else ("conditions", number)
    if isinstance(inside, dict):
        named = (word for words in _NAMES.findall(sentence) for word in words)
        return next(((word,) for word in named if word in inside and word != "kind"), ())
    return ()
