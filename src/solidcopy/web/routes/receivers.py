"""Receivers: what the bench knows, a try on known slots, and the command that tries a program."""

from typing import Annotated, Literal, get_args

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.bench_receivers import KnownReceiver, known_receivers
from solidcopy.actions.receiver_command import ComposedCommand, composed_command
from solidcopy.actions.try_from_page import ShownTry, try_builtin, try_known
from solidcopy.modes.registry import CODED_NAMES
from solidcopy.receivers.builtin.settings import BuiltinSettings, Effort
from solidcopy.receivers.program.command import PLACEHOLDERS
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()

Short = Annotated[str | None, Field(max_length=1000)]


class Receivers(BaseModel):
    """Receivers of all plans and settings of the bench."""

    known: Annotated[list[KnownReceiver], Field(description="in order of their files")]
    troubles: Annotated[list[str], Field(description="of files that cannot be read, why")]


class TryKnown(BaseModel):
    """A receiver by the file that describes it; what is run stands there."""

    file: Annotated[str, Field(description="name of a plan, or of settings")]
    is_plan: Annotated[bool, Field(description="whether it is a plan")]
    number: Annotated[int, Field(ge=1, le=1000, description="in that file, from 1")] = 1
    mode: Annotated[str, Field(description="of the slots; a plan has its own")] = "ft8"


class TryBuiltin(BaseModel):
    """Settings of the built-in receiver."""

    mode: Annotated[str, Field(description="of the slots")] = "ft8"
    effort: Annotated[Effort, Field(description="how hard it tries")] = "ordered-statistics"
    passes: Annotated[int, Field(ge=1, le=6, description="most searches of a slot")] = 4


class Command(BaseModel):
    """Answers to the questions of `solidcopy receiver try`; what is empty is left out."""

    name: Annotated[str, Field(min_length=1, max_length=80, description="of the receiver")]
    mode: Annotated[str, Field(description="of the slots")] = "ft8"
    command: Annotated[str, Field(max_length=4000, description="the program and its arguments")]
    sound_by: Annotated[
        Literal["file", "stdin"] | None, Field(description="how it is given the sound")
    ] = None
    sample_rate_hz: Annotated[
        int | None, Field(ge=8000, le=192_000, description="of the sound it wants")
    ] = None
    word_length: Annotated[Short, Field(description="of a sample")] = None
    channels: Annotated[int | None, Field(ge=1, le=2, description="one, or two alike")] = None
    answer: Annotated[Short, Field(description="lines, json-lines or columns")] = None
    line: Annotated[Short, Field(description="layout of a line with a decode")] = None
    pattern: Annotated[Short, Field(description="the same as a regular expression")] = None
    delimiter: Annotated[Short, Field(description="between columns")] = None
    text_in: Annotated[Short, Field(description="name or column of the message")] = None
    snr_db_in: Annotated[Short, Field(description="of the SNR")] = None
    audio_hz_in: Annotated[Short, Field(description="of the audio frequency")] = None
    time_offset_s_in: Annotated[Short, Field(description="of the time offset")] = None
    answer_file: Annotated[Short, Field(description="file it writes its decodes to")] = None
    snr_reference_hz: Annotated[
        float | None, Field(gt=0, description="bandwidth that its SNR refers to")
    ] = None
    time_limit_s: Annotated[
        float | None, Field(gt=0, le=3600, description="a slower answer is a failure")
    ] = None


@router.get("/receivers", response_class=HTMLResponse, include_in_schema=False)
def receivers_page(request: Request) -> HTMLResponse:
    """What is known is fetched after the page."""
    fields = BuiltinSettings.model_fields
    return page(
        request,
        "receivers.html.j2",
        modes=CODED_NAMES,
        efforts=get_args(Effort),
        passes_words=fields["passes"].description,
        placeholders=PLACEHOLDERS,
    )


@router.get("/api/receivers")
def known(space: Space) -> Receivers:
    """Every receiver of the plans, and of settings that were tried at the command line."""
    found, troubles = known_receivers(space)
    return Receivers(known=found, troubles=troubles)


@router.post("/api/receivers/try")
def try_one(asked: TryKnown, space: Space) -> ShownTry:
    """Try a receiver on known slots, as its file describes it; half a minute or more."""
    return try_known(space, asked.file, asked.number, is_plan=asked.is_plan, mode=asked.mode)


@router.post("/api/receivers/try-builtin")
def try_own(asked: TryBuiltin) -> ShownTry:
    """Try the built-in receiver on known slots."""
    return try_builtin(BuiltinSettings(effort=asked.effort, passes=asked.passes), asked.mode)


@router.post("/api/receivers/command")
def compose(asked: Command, space: Space) -> ComposedCommand:
    """The command that tries an outside program, for a person to type; nothing is run."""
    options = asked.model_dump(exclude={"name", "mode"}, exclude_none=True)
    return composed_command(space, asked.name, asked.mode, options)
