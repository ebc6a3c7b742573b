"""The application: one guard around pages, files and the interface they use."""

from collections.abc import Iterable

from fastapi import APIRouter, FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.types import ASGIApp

from solidcopy import __version__
from solidcopy.actions.workspace import Workspace
from solidcopy.web.guard import Guard, GuardSettings
from solidcopy.web.pages import STATIC, Bench
from solidcopy.web.problems import PROBLEMS, add_handlers
from solidcopy.web.routes import campaigns, home, plans

ROUTERS: tuple[APIRouter, ...] = (home.router, plans.router, campaigns.router)


def create_app(workspace: Workspace, hosts: Iterable[str], *, token: str | None = None) -> ASGIApp:
    """The guarded application.

    Args:
        workspace: folder it works on.
        hosts: "name:port" under which browsers reach it.
        token: asked of everybody where it listens beyond this machine.
    """
    key = workspace.key()
    app = FastAPI(
        title="solidcopy bench",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        responses=PROBLEMS,
    )
    app.state.bench = Bench(workspace, key)
    add_handlers(app)
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=str(STATIC)), name="static")
    return Guard(app, GuardSettings(frozenset(hosts), key, token))
