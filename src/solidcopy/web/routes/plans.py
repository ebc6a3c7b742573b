"""Plans: begin one from a question, change it in a form or as text, check it and its cost."""

from typing import Annotated

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.check_plan import check_plan
from solidcopy.actions.edit_plan import (
    begin_plan,
    copy_plan,
    delete_plan,
    digest_of,
    keep_plan_as,
    plan_text,
    save_plan,
)
from solidcopy.actions.new_plan import Question
from solidcopy.actions.plan_form.changes import Change
from solidcopy.actions.plan_form.description import PlanForm
from solidcopy.actions.plan_form.reading import FormState, change_form, form_of, read_form
from solidcopy.reports.wording import counted, duration
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()

Text = Annotated[str, Field(max_length=1_000_000, description="the plan as TOML")]
Digest = Annotated[str, Field(description="of the text as it lies on disk")]


class NewPlan(BaseModel):
    """A question and a name for its plan."""

    name: str = Field(description="new")
    question: Question = Field(description="which starting plan")
    recording: str | None = Field(None, description='file name; for the question "recording" only')


class PlanText(BaseModel):
    """A plan as text."""

    text: Text


class SavedPlan(PlanText):
    """A plan as it lies on disk."""

    digest: Digest


class ChangedText(PlanText):
    """A plan's changed text."""

    opened: str | None = Field(
        None, description="digest of the text that was changed; null: overwrite whatever is there"
    )


class ChangedForm(PlanText):
    """A change of the form, and the text that it is made to."""

    change: Change = Field(description="one change")


class NewName(BaseModel):
    """What the copy is called."""

    name: str = Field(description="new")
    text: Text | None = Field(None, description="kept there instead of what lies on disk")


class Named(BaseModel):
    """Something by its name."""

    name: str = Field(description="as asked")


@router.get("/plans/{name}", response_class=HTMLResponse, include_in_schema=False)
def plan_page(request: Request, name: str, space: Space) -> HTMLResponse:
    """One plan."""
    text = plan_text(space, name)
    is_begun = name in space.campaigns()
    digest = digest_of(text)
    return page(request, "plan.html.j2", name=name, text=text, digest=digest, is_begun=is_begun)


@router.get("/api/plan-form")
def form(space: Space) -> PlanForm:
    """The fields of a plan in plain words, with units, ranges, defaults and presets."""
    return form_of(space)


@router.post("/api/plans", status_code=201)
def begin(asked: NewPlan, space: Space) -> Named:
    """Write a starting plan for a question."""
    begin_plan(space, asked.name, asked.question, recording=asked.recording)
    return Named(name=asked.name)


@router.get("/api/plans/{name}")
def read(name: str, space: Space) -> SavedPlan:
    """The text of a plan."""
    text = plan_text(space, name)
    return SavedPlan(text=text, digest=digest_of(text))


@router.put("/api/plans/{name}")
def write(name: str, plan: ChangedText, space: Space) -> SavedPlan:
    """Keep a changed text, if it is a plan, and nobody else changed the one on disk."""
    save_plan(space, name, plan.text, opened=plan.opened)
    return SavedPlan(text=plan.text, digest=digest_of(plan.text))


@router.delete("/api/plans/{name}")
def delete(name: str, space: Space) -> Named:
    """Take a plan away. A campaign that was begun from it stays."""
    delete_plan(space, name)
    return Named(name=name)


@router.post("/api/plans/{name}/copy", status_code=201)
def copy(name: str, new: NewName, space: Space) -> Named:
    """The plan, or a changed text of it, under a new name."""
    if new.text is None:
        copy_plan(space, name, new.name)
    else:
        keep_plan_as(space, name, new.name, new.text)
    return Named(name=new.name)


@router.post("/api/plans/{name}/form")
def fill(name: str, plan: PlanText, space: Space) -> FormState:
    """From text to values: what the form shows of a text, and what is wrong at which field."""
    return read_form(space, name, plan.text)


@router.post("/api/plans/{name}/form/change")
def change(name: str, asked: ChangedForm, space: Space) -> FormState:
    """From values to text: a change of the form, made in the text; its remarks stay."""
    return change_form(space, name, asked.text, asked.change)


class Cost(BaseModel):
    """What a plan asks for and how long it takes here."""

    words: str = Field(description="for a person")
    n_trials_at_most: int = Field(description="a precision may be reached before")
    seconds_at_most: float = Field(description="on all processors of this machine")
    time_words: str = Field(description="the same for a person")
    processor_words: str = Field(description="how many processors, for a person")


@router.get("/api/plans/{name}/cost")
def cost(name: str, space: Space) -> Cost:
    """Make and receive a few trials of the plan as it lies there, and sum up."""
    summary = check_plan(space.existing_plan(name))
    return Cost(
        words=summary.text(),
        n_trials_at_most=summary.n_trials,
        seconds_at_most=summary.seconds,
        time_words=duration(summary.seconds),
        processor_words=counted(summary.n_processors, "processor"),
    )
