"""Plans: begin one from a question, change its text, check it and its cost."""

from typing import Annotated, Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.check_plan import check_plan
from solidcopy.actions.edit_plan import begin_plan, save_plan
from solidcopy.actions.new_plan import Question
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()


class NewPlan(BaseModel):
    """A question and a name for its plan."""

    name: str
    question: Question
    recording: str | None = None


class PlanText(BaseModel):
    """A plan as TOML."""

    text: Annotated[str, Field(max_length=1_000_000)]


class Named(BaseModel):
    """Something by its name."""

    name: str


@router.get("/plans/{name}", response_class=HTMLResponse, include_in_schema=False)
def plan_page(request: Request, name: str, space: Space) -> HTMLResponse:
    """One plan."""
    text = space.existing_plan(name).read_text(encoding="utf-8")
    is_begun = name in space.campaigns()
    return page(request, "plan.html.j2", name=name, text=text, is_begun=is_begun)


@router.post("/api/plans", status_code=201)
def begin(asked: NewPlan, space: Space) -> Named:
    """Write a starting plan for a question."""
    begin_plan(space, asked.name, asked.question, recording=asked.recording)
    return Named(name=asked.name)


@router.get("/api/plans/{name}")
def read(name: str, space: Space) -> PlanText:
    """The text of a plan."""
    return PlanText(text=space.existing_plan(name).read_text(encoding="utf-8"))


@router.put("/api/plans/{name}")
def write(name: str, plan: PlanText, space: Space) -> Named:
    """Keep a changed text, if it is a plan."""
    save_plan(space, name, plan.text)
    return Named(name=name)


class Cost(BaseModel):
    """What a plan asks for and how long it takes here."""

    words: str
    n_trials_at_most: int
    seconds_at_most: float


@router.get("/api/plans/{name}/cost")
def cost(name: str, space: Space) -> Cost:
    """Make and receive a few trials of the plan as it lies there, and sum up."""
    summary = check_plan(space.existing_plan(name))
    figures: dict[str, Any] = summary.as_dict()
    return Cost(
        words=summary.text(),
        n_trials_at_most=figures["n_trials_at_most"],
        seconds_at_most=figures["seconds_at_most"],
    )
