"""Home: what is there, and a new question in plain words."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.list_campaigns import CampaignCard, campaign_card
from solidcopy.actions.workspace import Workspace
from solidcopy.web.pages import page, workspace_of
from solidcopy.web.questions import ELSEWHERE, QUESTION_CARDS

router = APIRouter()
Space = Annotated[Workspace, Depends(workspace_of)]


class Contents(BaseModel):
    """What lies in the bench folder."""

    campaigns: list[str] = Field(description="names, the one written last first")
    plans: list[str] = Field(description="names")
    recordings: list[str] = Field(description="file names")


def _contents(space: Workspace) -> Contents:
    return Contents(campaigns=space.campaigns(), plans=space.plans(), recordings=space.recordings())


@router.get("/", response_class=HTMLResponse, include_in_schema=False)
def home(request: Request, space: Space) -> HTMLResponse:
    """The first page. Its cards are fetched after it: an answer may take a moment."""
    cards = {"questions": QUESTION_CARDS, "elsewhere": ELSEWHERE}
    return page(request, "home.html.j2", contents=_contents(space), **cards)


@router.get("/api/contents")
def contents(space: Space) -> Contents:
    """Names of campaigns, plans and recordings."""
    return _contents(space)


@router.get("/api/cards/{name}")
def card(name: str, space: Space) -> CampaignCard:
    """How far a campaign came and what it answers, at once; the answer may need to be asked for
    again.
    """
    return campaign_card(name, space.campaign(name), is_exact=False)
