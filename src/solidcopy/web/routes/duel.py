"""Duel: two receivers on the same trials, or two campaigns side by side."""

from typing import Annotated, get_args

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.compare_any import Named, compare_any
from solidcopy.actions.duel_plan import Contender, TwoSettings, begin_duel_plan, contenders
from solidcopy.actions.watch_duel import (
    DuelAsked,
    DuelView,
    duel_page_text,
    reveal_duel,
    start_duel,
    stop_duel,
    watch_duel,
)
from solidcopy.receivers.builtin.settings import BuiltinSettings, Effort
from solidcopy.web.pages import page
from solidcopy.web.routes.campaigns import REPORT_POLICY
from solidcopy.web.routes.home import Space

router = APIRouter()

Number = Annotated[
    int | None, Query(ge=1, le=1000, description="number of a receiver in the plan, from 1")
]
Difference = Annotated[
    float | None, Field(gt=0, le=100, description="smallest difference that matters, dB")
]


def _asked(
    name: str,
    first: Number = None,
    second: Number = None,
    difference: Annotated[float | None, Query(gt=0, le=100)] = None,
) -> DuelAsked:
    between = None if first is None or second is None else (first, second)
    return DuelAsked(name, between, difference=difference)


Asked = Annotated[DuelAsked, Depends(_asked)]


class Begin(BaseModel):
    """A duel to carry out."""

    name: Annotated[str, Field(description="of a plan of the bench")]
    first: Annotated[int, Field(ge=1, le=1000, description="number of a receiver, from 1")] = 1
    second: Annotated[int, Field(ge=1, le=1000, description="number of the other one")] = 2
    same_message: Annotated[
        str | None,
        Field(max_length=100, description="run each condition with this message as well"),
    ] = None
    difference: Difference = None


class Level(BaseModel):
    """Settings of the built-in receiver."""

    effort: Annotated[Effort, Field(description="how hard it tries")]
    passes: Annotated[int, Field(ge=1, le=6, description="most searches of a slot")] = 4


class NewDuel(BaseModel):
    """A plan for two settings of the built-in receiver."""

    name: Annotated[str, Field(max_length=80, description="of the new plan")]
    base: Annotated[str, Field(description="plan whose conditions, axis and seed are taken over")]
    first: Level
    second: Level
    at_most: Annotated[
        int | None,
        Field(ge=1, le=1_000_000, description="trials at a point, if it ends once decided"),
    ] = None


class DuelNamed(BaseModel):
    """A duel by its plan."""

    name: Annotated[str, Field(description="of the plan")]
    is_running: Annotated[bool, Field(description="whether it is carried out now")]


class Sides(BaseModel):
    """Two curves to compare."""

    a: Annotated[str, Field(description="a campaign")]
    b: Annotated[str, Field(description="a campaign; may be the same")]
    a_curve: Annotated[str | None, Field(description="CONDITION/RECEIVER of the first")] = None
    b_curve: Annotated[str | None, Field(description="CONDITION/RECEIVER of the second")] = None
    anyway: Annotated[
        str | None, Field(max_length=300, description="why to compare two versions of a receiver")
    ] = None


class Comparison(BaseModel):
    """Two curves side by side, in the words of the command line."""

    text: Annotated[str, Field(description="for a person; a paragraph for each line")]


@router.get("/duel", response_class=HTMLResponse, include_in_schema=False)
def duel_room(request: Request) -> HTMLResponse:
    """What can be set against each other is fetched after the page."""
    return page(request, "duel.html.j2", efforts=get_args(Effort))


@router.get("/campaigns/{name}/duel", response_class=HTMLResponse, include_in_schema=False)
def duel_page(space: Space, asked: Asked) -> HTMLResponse:
    """The duel's own page, written anew."""
    text = duel_page_text(space, asked)
    return HTMLResponse(text, headers={"content-security-policy": REPORT_POLICY})


@router.get("/api/contenders")
def all_contenders(space: Space) -> list[Contender]:
    """Plans and campaigns with what can be compared in them."""
    return contenders(space)


@router.post("/api/duel-plans", status_code=201)
def new_plan(asked: NewDuel, space: Space) -> DuelNamed:
    """Write a plan that sets two settings of the built-in receiver against each other."""
    first, second = (
        BuiltinSettings(effort=one.effort, passes=one.passes) for one in (asked.first, asked.second)
    )
    begin_duel_plan(space, TwoSettings(asked.name, asked.base, first, second, asked.at_most))
    return DuelNamed(name=asked.name, is_running=False)


@router.post("/api/duels", status_code=202)
def begin(asked: Begin, space: Space) -> DuelNamed:
    """Carry out what is missing of a duel, in a process of its own."""
    pair = (asked.first, asked.second)
    start_duel(space, DuelAsked(asked.name, pair, asked.same_message, asked.difference))
    return DuelNamed(name=asked.name, is_running=True)


@router.get("/api/duels/{name}")
def look(space: Space, asked: Asked) -> DuelView:
    """The duel as it stands; names are told only if they were asked for once."""
    return watch_duel(space, asked)


@router.post("/api/duels/{name}/reveal")
def reveal(space: Space, asked: Asked) -> DuelView:
    """Write the verdict down, then tell who is who, from now on for good."""
    return reveal_duel(space, asked)


@router.post("/api/duels/{name}/stop")
def stop(name: str, space: Space) -> DuelNamed:
    """Stop cleanly; nothing that was tried is lost."""
    stop_duel(space, name)
    return DuelNamed(name=name, is_running=False)


@router.get("/api/comparison")
def compare(space: Space, asked: Annotated[Sides, Query()]) -> Comparison:
    """How far one curve lies from another; refused with the reasons if they are unlike."""
    folders = space.campaign(asked.a), space.campaign(asked.b)
    named = Named(None, asked.a_curve or None, asked.b_curve or None, asked.anyway or None)
    return Comparison(text=compare_any(folders[0], str(folders[1]), None, named).text)
