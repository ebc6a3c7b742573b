"""The application: one guard around pages, files and the interface they use."""

from collections.abc import Iterable

from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute
from fastapi.staticfiles import StaticFiles
from starlette.types import ASGIApp

from solidcopy import __version__
from solidcopy.actions.take_recording import sweep_incoming
from solidcopy.actions.workspace import Workspace
from solidcopy.web.guard import Guard, GuardSettings
from solidcopy.web.pages import STATIC, Bench
from solidcopy.web.problems import PROBLEMS, add_handlers
from solidcopy.web.routes import (
    campaigns,
    duel,
    home,
    live,
    looks,
    noise,
    plans,
    receivers,
    recordings,
    reports,
    results,
    trials,
)

ROUTERS: tuple[APIRouter, ...] = (
    home.router,
    plans.router,
    campaigns.router,
    results.router,
    recordings.router,
    looks.router,
    noise.router,
    trials.router,
    reports.router,
    duel.router,
    receivers.router,
    live.router,
)


def create_app(workspace: Workspace, hosts: Iterable[str], *, token: str | None = None) -> ASGIApp:
    """The guarded application.

    Args:
        workspace: folder it works on.
        hosts: "name:port" under which browsers reach it.
        token: asked of everybody where it listens beyond this machine.
    """
    key = workspace.key()
    sweep_incoming(workspace)
    app = bare_app()
    app.state.bench = Bench(workspace, key)
    return Guard(app, GuardSettings(frozenset(hosts), key, token))


def bare_app() -> FastAPI:
    """All pages and paths of the interface, without a guard and a folder; it can be described."""
    app = FastAPI(
        title="solidcopy bench",
        summary="What the pages of the bench ask their server; any program may ask the same.",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=PROBLEMS,
        generate_unique_id_function=_operation_name,
    )
    add_handlers(app)
    for router in ROUTERS:
        app.include_router(router, tags=[_subject(router)])
    app.mount("/static", StaticFiles(directory=str(STATIC)), name="static")
    return app


def _subject(router: APIRouter) -> str:
    """What a router is about: the module of its handlers."""
    first = router.routes[0]
    assert isinstance(first, APIRoute)
    return _module(first)


def _module(route: APIRoute) -> str:
    return str(route.endpoint.__module__).rpartition(".")[2]


def _operation_name(route: APIRoute) -> str:
    return f"{_module(route)}-{route.name}"
