"""Recordings: take one in, listen to it, put it away."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import FileResponse, Response
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from solidcopy.actions.list_recordings import RecordingCard, delete_recording, list_recordings
from solidcopy.actions.looks.request import LATEST_S
from solidcopy.actions.recording_sound import LONGEST_S, sound_piece
from solidcopy.actions.take_recording import Incoming, Offer, Taken, offer_name
from solidcopy.errors import WorkspaceError
from solidcopy.web.routes.home import Space

router = APIRouter()

MOST_BYTES = 2**53
SOUND_TYPES = {".flac": "audio/flac", ".ogg": "audio/ogg", ".mp3": "audio/mpeg"}
SOUND: dict[int | str, dict[str, Any]] = {
    200: {"description": "the sound", "content": {"audio/*": {"schema": {"type": "string"}}}}
}
BYTES = {
    "requestBody": {
        "required": True,
        "description": "the file as it is",
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


@router.get("/api/recordings")
def recordings(space: Space) -> list[RecordingCard]:
    """All of them, by what their files say."""
    return list_recordings(space)


@router.get("/api/recording-name")
def name_for(
    space: Space,
    file_name: Annotated[
        str, Query(max_length=1000, description="as the file is called where it lies")
    ],
    n_bytes: Annotated[int, Query(ge=0, le=MOST_BYTES, description="its size")],
) -> Offer:
    """A free name for a file, and whether there is room for it, before it is sent."""
    return offer_name(space, file_name, n_bytes)


@router.put("/api/recordings/{name}", status_code=201, openapi_extra=BYTES)
async def take(request: Request, name: str, space: Space) -> Taken:
    """Take in a recording; it is checked before it is kept, and nothing is written over."""
    length = request.headers.get("content-length")
    n_bytes = int(length) if length is not None else None
    incoming = await run_in_threadpool(Incoming, space, name, n_bytes)
    with incoming:
        try:
            async for piece in request.stream():
                await run_in_threadpool(incoming.write, piece)
        except ClientDisconnect:
            raise WorkspaceError(f"{name!r} was broken off: nothing of it was kept") from None
        return await run_in_threadpool(incoming.keep)


class Removed(BaseModel):
    """A recording that is gone."""

    name: str = Field(description="file name it had")


@router.delete("/api/recordings/{name}")
def delete(name: str, space: Space) -> Removed:
    """Remove a recording, unless a plan or a campaign names it."""
    delete_recording(space, name)
    return Removed(name=name)


@router.get("/api/recordings/{name}/sound", response_class=FileResponse, responses=SOUND)
def sound(name: str, space: Space) -> FileResponse:
    """The file as it is, in pieces if the browser asks so (Range)."""
    file = space.recording(name)
    return FileResponse(file, media_type=SOUND_TYPES.get(file.suffix.lower(), "audio/wav"))


@router.get("/api/recordings/{name}/piece", response_class=Response, responses=SOUND)
def piece(
    name: str,
    space: Space,
    start_s: Annotated[float, Query(ge=0.0, le=LATEST_S, description="begin here")] = 0.0,
    length_s: Annotated[
        float, Query(gt=0.0, le=LONGEST_S, description="so many seconds at most")
    ] = 30.0,
) -> Response:
    """A piece made over into WAV, for kinds of file that browsers do not play."""
    return Response(sound_piece(space, name, start_s, length_s), media_type="audio/wav")
