"""Home: what is there, and a new question in plain words."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.list_campaigns import list_campaigns
from solidcopy.actions.workspace import Workspace
from solidcopy.web.pages import page, workspace_of

router = APIRouter()
Space = Annotated[Workspace, Depends(workspace_of)]

QUESTION_WORDS = {
    "noise": "How much noise does the signal stand?",
    "carrier": "What does a carrier nearby cost?",
    "band-noise": "What does noise from somebody else's signal cost?",
    "impulses": "What do impulses cost?",
    "protection": "How strong may a carrier be, at each distance?",
    "recording": "What does my own noise cost?",
}


class Card(BaseModel):
    """A campaign and its answer so far."""

    name: str
    title: str
    n_done: int
    n_planned: int
    is_running: bool
    is_finished: bool
    sentence: str


class Contents(BaseModel):
    """What lies in the bench folder."""

    campaigns: list[Card]
    plans: list[str]
    recordings: list[str] = Field(description="file names")


def _contents(space: Workspace) -> dict[str, Any]:
    return {
        "campaigns": [card.as_dict() for card in list_campaigns(space)],
        "plans": space.plans(),
        "recordings": space.recordings(),
    }


@router.get("/", response_class=HTMLResponse, include_in_schema=False)
def home(request: Request, space: Space) -> HTMLResponse:
    """The first page."""
    return page(request, "home.html.j2", questions=QUESTION_WORDS, **_contents(space))


@router.get("/api/contents")
def contents(space: Space) -> Contents:
    """Campaigns with their answers, plans and recordings."""
    return Contents.model_validate(_contents(space))
