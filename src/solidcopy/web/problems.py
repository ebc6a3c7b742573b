"""One shape of every refusal: a kind for programs, a sentence for people, the field."""

import logging
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from solidcopy.errors import ChangedError, JournalError, NotThereError, PlanError, SolidcopyError
from solidcopy.web.headers import HEADERS

log = logging.getLogger(__name__)

NOT_THERE, CONFLICT, UNFIT = 404, 409, 422


class Problem(BaseModel):
    """What went wrong: the shape of every refusal, whatever refuses."""

    kind: str = Field(description="for programs: plan, value, notthere, refused ...")
    sentence: str = Field(description="for people: what was asked, what is allowed, what to do")
    field: str | None = Field(None, description="the field at fault, where it is one")


PROBLEMS: dict[int | str, dict[str, Any]] = {
    status: {"model": Problem, "description": words}
    for status, words in {
        400: "cannot be done as asked",
        401: "token missing",
        403: "foreign page, or key missing",
        404: "not there",
        408: "came too slowly",
        409: "another run writes into it, its journal cannot be used, or it was changed on disk",
        413: "too large",
        422: "a value cannot be used",
    }.items()
}
"""Answers that every path may give, for the description of the interface."""


def add_handlers(app: FastAPI) -> None:
    """Turn every error into a Problem."""

    @app.exception_handler(SolidcopyError)
    async def mendable(_: Request, error: SolidcopyError) -> JSONResponse:
        kind = type(error).__name__.removesuffix("Error").lower()
        faults = error.faults if isinstance(error, PlanError) else ()
        field = faults[0].field if faults else None
        return _json(_status(error), Problem(kind=kind, sentence=str(error), field=field))

    @app.exception_handler(RequestValidationError)
    async def unfit(_: Request, error: RequestValidationError) -> JSONResponse:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"][1:]) or None
        words = f"{field or 'the request'}: {str(first['msg']).lower()}"
        return _json(UNFIT, Problem(kind="value", sentence=words, field=field))

    @app.exception_handler(HTTPException)
    async def http(_: Request, error: HTTPException) -> JSONResponse:
        problem = Problem(kind="request", sentence=str(error.detail).lower())
        return _json(error.status_code, problem, dict(error.headers or {}))

    @app.exception_handler(Exception)
    async def unexpected(request: Request, error: Exception) -> JSONResponse:
        log.exception("%s %s", request.method, request.url.path, exc_info=error)
        sentence = "the bench made a mistake; what it says about it stands where it was started"
        return _json(500, Problem(kind="mistake", sentence=sentence))


def refusal(sentence: str) -> tuple[list[tuple[bytes, bytes]], bytes]:
    """Headers and body of an answer that is given before the application is asked."""
    body = Problem(kind="refused", sentence=sentence).model_dump_json().encode()
    raw = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
    raw += [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    return raw, body


def _status(error: SolidcopyError) -> int:
    if isinstance(error, NotThereError):
        return NOT_THERE
    return CONFLICT if isinstance(error, JournalError | ChangedError) else 400


def _json(status: int, problem: Problem, headers: dict[str, str] | None = None) -> JSONResponse:
    return JSONResponse(problem.model_dump(), status, headers)
