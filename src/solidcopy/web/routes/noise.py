"""Pages of the noise lab."""

from typing import get_args

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from solidcopy.actions.list_recordings import list_recordings, recording_card
from solidcopy.actions.looks.store import look_of, looks_at
from solidcopy.actions.own_noise import campaigns_beside, plans_beside
from solidcopy.actions.workspace import SOUND_SUFFIXES
from solidcopy.receivers.builtin.settings import Effort
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter(include_in_schema=False)


@router.get("/noise", response_class=HTMLResponse)
def lab(request: Request, space: Space) -> HTMLResponse:
    """All recordings, and a place to drop new ones."""
    cards = list_recordings(space)
    return page(request, "noise.html.j2", cards=cards, suffixes=",".join(SOUND_SUFFIXES))


@router.get("/noise/{recording}", response_class=HTMLResponse)
def recording(request: Request, recording: str, space: Space) -> HTMLResponse:
    """One recording, with what was found in it before."""
    return page(
        request,
        "noise-recording.html.j2",
        card=recording_card(space, recording),
        looks=looks_at(space, recording),
        others=[name for name in space.recordings() if name != recording],
        plans=plans_beside(space, recording),
        campaigns=campaigns_beside(space, recording),
        efforts=get_args(Effort),
    )


@router.get("/noise/looks/{key}", response_class=HTMLResponse)
def answer(request: Request, key: str, space: Space) -> HTMLResponse:
    """The answer of a look, to be put into the page of its recording."""
    return page(request, "noise-answer.html.j2", look=look_of(space, key))
