"""One trial: of a plan, before anything is run; or of a campaign, looked at again."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from solidcopy.actions.folder import plan_of
from solidcopy.actions.show_trial import CampaignTrial, show_trial
from solidcopy.actions.trial_asked import AskedTrial
from solidcopy.actions.trial_choices import TrialChoices, trial_choices
from solidcopy.actions.trial_file import AskedFile, trial_file
from solidcopy.actions.trial_view import TrialView, trial_sound, view_trial
from solidcopy.trials.plan import read_plan
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()
Asked = Annotated[AskedTrial, Query()]

WAV = "audio/wav"
SOUND: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "the slot as a WAV file of 32-bit floats",
        "content": {WAV: {"schema": {"type": "string", "format": "binary"}}},
    }
}
FILE: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "the file",
        "content": {
            WAV: {"schema": {"type": "string", "format": "binary"}},
            "application/json": {"schema": {"type": "object"}},
        },
    }
}


@router.get("/plans/{name}/preview", response_class=HTMLResponse, include_in_schema=False)
def preview_page(request: Request, name: str, space: Space) -> HTMLResponse:
    """Any trial of a plan."""
    space.existing_plan(name)
    return page(request, "preview.html.j2", name=name)


@router.get("/api/plans/{name}/choices")
def choices(name: str, space: Space) -> TrialChoices:
    """Which trials the plan as it lies there has."""
    return trial_choices(read_plan(space.existing_plan(name)))


@router.get("/api/plans/{name}/preview")
def preview(name: str, space: Space, asked: Asked) -> TrialView:
    """One trial of the plan as it lies there; nothing is run."""
    return view_trial(read_plan(space.existing_plan(name)), asked)


@router.get("/api/plans/{name}/preview/sound", response_class=Response, responses=SOUND)
def preview_sound(name: str, space: Space, asked: Asked) -> Response:
    """The audio of the same."""
    return Response(trial_sound(read_plan(space.existing_plan(name)), asked), media_type=WAV)


@router.get("/campaigns/{name}/trial", response_class=HTMLResponse, include_in_schema=False)
def trial_page(request: Request, name: str, space: Space) -> HTMLResponse:
    """One trial of a campaign; which, stands in the query and is read by the page's script."""
    space.campaign(name)
    return page(request, "trial.html.j2", name=name)


@router.get("/api/campaigns/{name}/trial")
def trial(name: str, space: Space, asked: Asked) -> CampaignTrial:
    """One trial of the campaign, made anew, and the answers to it."""
    return show_trial(space.campaign(name), asked)


@router.get("/api/campaigns/{name}/trial/sound", response_class=Response, responses=SOUND)
def sound(name: str, space: Space, asked: Asked) -> Response:
    """The audio of the same."""
    return Response(trial_sound(plan_of(space.campaign(name)), asked), media_type=WAV)


@router.get("/api/campaigns/{name}/trial/file", response_class=Response, responses=FILE)
def file(name: str, space: Space, asked: Annotated[AskedFile, Query()]) -> Response:
    """To take away: the whole trial's audio with its certificate, or the description of it."""
    file_name, contents = trial_file(space.campaign(name), asked)
    return Response(
        contents,
        media_type=WAV if asked.kind == "wav" else "application/json",
        headers={"content-disposition": f'attachment; filename="{file_name}"'},
    )
