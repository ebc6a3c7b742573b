"""The live bench: a campaign played to a station that listens to a sound device."""

from typing import Annotated, Literal

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.background_run import stop_run
from solidcopy.actions.live_plan import POINTS
from solidcopy.actions.live_run import (
    LiveAsk,
    LivePlan,
    LiveState,
    Wish,
    live_plans,
    live_state,
    sound_cards,
    start_play,
    wish,
)
from solidcopy.actions.path_run import PathState, path_state, start_check
from solidcopy.soundcard.card import Card
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()


class Playing(BaseModel):
    """How a campaign is to be played."""

    output: Annotated[str, Field(max_length=200)] = Field(
        "", description="sound output by number or name; empty: the system's own"
    )
    every: Literal[1, 2] = Field(1, description="2: each second slot only")
    gain_db: float = Field(0.0, ge=-80.0, le=0.0, description="of the sound, dB")
    own_ear: Annotated[str, Field(max_length=200)] | None = Field(
        None, description="sound input at which our own receiver listens; null: the station's log"
    )
    is_confirmed: bool = Field(
        False, description="a person has confirmed that nothing that can radiate hangs on it"
    )


class PathAsked(BaseModel):
    """Between which devices a path is to be checked."""

    output: Annotated[str, Field(max_length=200)] = Field("", description="as in playing")
    source: Annotated[str, Field(max_length=200)] = Field(
        "", description="sound input by number or name; empty: the system's own"
    )
    is_confirmed: bool = Field(False, description="as in playing")


@router.get("/live", response_class=HTMLResponse, include_in_schema=False)
def live_page(request: Request, space: Space) -> HTMLResponse:
    """All plans with a station, and how to play them."""
    plans = live_plans(space)
    return page(request, "live.html.j2", plans=plans, log=space.station_log, points=POINTS)


@router.get("/api/live/cards")
def cards() -> list[Card]:
    """The sound devices of this machine, as they are now."""
    return sound_cards()


@router.get("/api/live/plans")
def plans(space: Space) -> list[LivePlan]:
    """Plans with a station that listens, and the set-up each is played with."""
    return live_plans(space)


@router.get("/api/live/plans/{name}")
def state(name: str, space: Space) -> LiveState:
    """How far the playing of a campaign has come."""
    return live_state(space, name)


@router.post("/api/live/plans/{name}/play")
def play(name: str, playing: Playing, space: Space) -> LiveState:
    """Play a campaign, or go on with it."""
    start_play(space, name, LiveAsk(**playing.model_dump()))
    return live_state(space, name)


@router.post("/api/live/plans/{name}/stop")
def stop(name: str, space: Space) -> LiveState:
    """Stop; the slot on its way is played again another time."""
    stop_run(space.campaign(name))
    return live_state(space, name)


@router.post("/api/live/plans/{name}/wish/{wanted}")
def ask_for(name: str, wanted: Wish, space: Space) -> LiveState:
    """Pause, go on, or skip the slot on its way, which is played again later."""
    wish(space, name, wanted)
    return live_state(space, name)


@router.get("/api/live/path")
def path(space: Space) -> PathState:
    """The check of a sound path that is under way, or the last one."""
    return path_state(space)


@router.post("/api/live/path")
def check_path(asked: PathAsked, space: Space) -> PathState:
    """Play the test sequence through a path and judge it; takes a minute."""
    return start_check(
        space, output=asked.output, source=asked.source, is_confirmed=asked.is_confirmed
    )
