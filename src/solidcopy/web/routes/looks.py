"""Looks at recordings: health, parts, cost, change, slots and twin, one at a time."""

from typing import Annotated, Any

from fastapi import APIRouter, Body
from fastapi.responses import FileResponse
from pydantic import BaseModel, Field

from solidcopy.actions.looks.request import LookAsked
from solidcopy.actions.looks.store import Look, ask_look, cancel_look, file_of_look, look_of
from solidcopy.actions.own_noise import keep_plan_of_look
from solidcopy.web.routes.campaigns import REPORT_POLICY
from solidcopy.web.routes.home import Space
from solidcopy.web.routes.plans import Named

router = APIRouter()

FILE_TYPES = {".svg": "image/svg+xml", ".json": "application/json", ".toml": "text/plain"}
FILE: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "the file",
        "content": {kind: {"schema": {"type": "string"}} for kind in FILE_TYPES.values()},
    }
}


@router.post("/api/looks")
def ask_for(asked: Annotated[LookAsked, Body()], space: Space) -> Look:
    """Begin a look, join one that is at work, or get the answer that is kept."""
    return ask_look(space, asked)


@router.get("/api/looks/{key}")
def state(key: str, space: Space) -> Look:
    """How far a look is, and its answer."""
    return look_of(space, key)


class Stopped(BaseModel):
    """A look that is at work no more."""

    key: str = Field(description="name of the look")


@router.delete("/api/looks/{key}")
def cancel(key: str, space: Space) -> Stopped:
    """Stop a look; nothing of it stays. One that is done is kept."""
    cancel_look(space, key)
    return Stopped(key=key)


@router.get("/api/looks/{key}/files/{file}", response_class=FileResponse, responses=FILE)
def file_beside(key: str, file: str, space: Space) -> FileResponse:
    """A picture, the facts for a program, or a plan."""
    found = file_of_look(space, key, file)
    return FileResponse(
        found,
        media_type=FILE_TYPES[found.suffix],
        headers={"content-security-policy": REPORT_POLICY},
    )


class KeptAs(BaseModel):
    """Where to keep something."""

    name: str = Field(description="name of the new plan")


@router.post("/api/looks/{key}/plan", status_code=201)
def keep_plan(key: str, asked: KeptAs, space: Space) -> Named:
    """Keep the plan that a look at cost or twin wrote in the bench folder."""
    keep_plan_of_look(space, key, asked.name)
    return Named(name=asked.name)
