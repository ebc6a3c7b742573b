"""Campaigns: begin, stop and go on, watch, and read the report."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel

from solidcopy.actions.background_run import last_words, start_run, stop_run
from solidcopy.actions.list_campaigns import CampaignCard, campaign_card
from solidcopy.actions.report import write_report
from solidcopy.actions.run import read_status
from solidcopy.campaigns.journal.lock import holder
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()

REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"
"""The report is one file with its styles and pictures inside; it runs nothing."""


class Point(BaseModel):
    """Counts at one axis value."""

    axis_value: float
    n_decoded: int
    n_scored: int


class Curve(BaseModel):
    """Counts along one curve."""

    condition_name: str
    receiver_name: str
    points: list[Point]


class State(BaseModel):
    """How far a campaign has come."""

    is_running: bool
    is_finished: bool
    n_done: int
    n_planned: int
    n_failed: int
    curves: list[Curve]
    last_words: str


@router.get("/campaigns/{name}", response_class=HTMLResponse, include_in_schema=False)
def campaign_page(request: Request, name: str, space: Space) -> HTMLResponse:
    """One campaign."""
    card = campaign_card(name, space.campaign(name))
    return page(request, "campaign.html.j2", card=card)


@router.get("/campaigns/{name}/report", response_class=HTMLResponse, include_in_schema=False)
def report(name: str, space: Space) -> HTMLResponse:
    """The report, written anew."""
    written = write_report(space.campaign(name), None)
    text = written.paths.html.read_text(encoding="utf-8")
    return HTMLResponse(text, headers={"content-security-policy": REPORT_POLICY})


@router.get("/api/campaigns/{name}/answer")
def answer(name: str, space: Space) -> CampaignCard:
    """The answer so far."""
    return campaign_card(name, space.campaign(name))


@router.get("/api/campaigns/{name}")
def state(name: str, space: Space) -> State:
    """How far it has come, by its journal, whoever runs it."""
    folder = space.campaign(name)
    progress = read_status(folder)
    return State(
        is_running=holder(folder) is not None,
        is_finished=progress.is_finished,
        n_done=progress.n_done,
        n_planned=progress.n_planned,
        n_failed=progress.n_failed,
        curves=[
            Curve(
                condition_name=curve.condition_name,
                receiver_name=curve.receiver_name,
                points=[
                    Point(axis_value=p.axis_value, n_decoded=p.n_decoded, n_scored=p.n_scored)
                    for p in curve.points
                ],
            )
            for curve in progress.curves
        ],
        last_words=last_words(folder),
    )


class Running(BaseModel):
    """Whether a process carries the campaign out now."""

    is_running: bool


@router.post("/api/campaigns/{name}/run")
def run(name: str, space: Space) -> Running:
    """Begin, or go on; from the plan if the campaign is new, else as it was begun."""
    is_begun = name in space.campaigns()
    start_run(space.campaign(name) if is_begun else space.existing_plan(name))
    return Running(is_running=True)


@router.post("/api/campaigns/{name}/stop")
def stop(name: str, space: Space) -> Running:
    """Stop cleanly; nothing that was tried is lost."""
    stop_run(space.campaign(name))
    return Running(is_running=False)
