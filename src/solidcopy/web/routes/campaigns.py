"""Campaigns: begin, stop and go on, watch, and read the report."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions.background_run import start_run, stop_run
from solidcopy.actions.list_campaigns import CampaignCard, campaign_card
from solidcopy.actions.report import write_report
from solidcopy.actions.watch_campaign import CampaignState, campaign_state
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()

RetryFailed = Annotated[bool, Query(description="run trials again in which a receiver failed")]

REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"
"""The report is one file with its styles and pictures inside; it runs nothing."""


@router.get("/campaigns/{name}", response_class=HTMLResponse, include_in_schema=False)
def campaign_page(request: Request, name: str, space: Space) -> HTMLResponse:
    """One campaign: its run and its results. What takes a moment is fetched after it."""
    found = campaign_state(space, name)
    has_plan = name in space.plans()
    return page(request, "campaign.html.j2", name=name, state=found, has_plan=has_plan)


@router.get("/campaigns/{name}/report", response_class=HTMLResponse, include_in_schema=False)
def report(name: str, space: Space) -> HTMLResponse:
    """The report, written anew."""
    written = write_report(space.campaign(name), None)
    text = written.paths.html.read_text(encoding="utf-8")
    return HTMLResponse(text, headers={"content-security-policy": REPORT_POLICY})


@router.get("/api/campaigns/{name}/answer")
def answer(name: str, space: Space) -> CampaignCard:
    """The answer so far, however long it takes to work it out."""
    return campaign_card(name, space.campaign(name), is_exact=True)


@router.get("/api/campaigns/{name}")
def state(name: str, space: Space) -> CampaignState:
    """How far it has come, by its journal, whoever runs it; also of a plan that was never run."""
    return campaign_state(space, name)


class Running(BaseModel):
    """Whether a process carries the campaign out now."""

    is_running: bool = Field(description="true after a start, false after a stop")


@router.post("/api/campaigns/{name}/run")
def run(name: str, space: Space, retry_failed: RetryFailed = False) -> Running:
    """Begin, or go on; from the plan if the campaign is new, else as it was begun."""
    is_begun = name in space.campaigns()
    source = space.campaign(name) if is_begun else space.existing_plan(name)
    start_run(source, retry_failed=retry_failed)
    return Running(is_running=True)


@router.post("/api/campaigns/{name}/stop")
def stop(name: str, space: Space) -> Running:
    """Stop cleanly; nothing that was tried is lost."""
    stop_run(space.campaign(name))
    return Running(is_running=False)
