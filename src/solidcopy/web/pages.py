"""HTML pages from templates; scripts and styles are files of our own beside them."""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from solidcopy import __version__
from solidcopy.actions.workspace import Workspace

STATIC = files(__package__) / "static"

ROOMS = (
    ("/noise", "Noise lab"),
    ("/live", "Live"),
    ("/duel", "Duel"),
    ("/receivers", "Receivers"),
    ("/reports", "Reports"),
)
"""Address and name of the pages that every page links to, beside home."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What every handler needs: `request.app.state.bench`."""

    workspace: Workspace
    key: str


def bench_of(request: Request) -> Bench:
    """The bench that serves a request."""
    bench = request.app.state.bench
    assert isinstance(bench, Bench)
    return bench


def workspace_of(request: Request) -> Workspace:
    """Its folder; a FastAPI dependency."""
    return bench_of(request).workspace


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("solidcopy.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(request: Request, template: str, **values: Any) -> HTMLResponse:
    """A page.

    Args:
        template: file in `templates`, which extends `frame.html.j2`.
        values: for it.
    """
    bench = bench_of(request)
    text = (
        _environment()
        .get_template(template)
        .render(
            key=bench.key,
            version=__version__,
            here=request.url.path,
            rooms=ROOMS,
            folder=str(bench.workspace.folder),
            **values,
        )
    )
    return HTMLResponse(text)
