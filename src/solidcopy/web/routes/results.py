"""What a campaign says: answer, curves, comparisons, maps, and the trials behind a point."""

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import TypeAdapter

from solidcopy.actions.campaigns_beside import BesideCampaign, campaigns_beside
from solidcopy.actions.compare_beside import AskedBeside, ComparedBeside, compare_beside
from solidcopy.actions.point_trials import AskedTrials, PointTrials, point_trials
from solidcopy.actions.show_results import Results, campaign_results
from solidcopy.reports.axis_scales import AS_PLANNED
from solidcopy.web.routes.home import Space

router = APIRouter(prefix="/api/campaigns/{name}")

RESULTS: TypeAdapter[Any] = TypeAdapter(Results)


@router.get("/results", response_model=Results)
def results(
    name: str,
    space: Space,
    scale: Annotated[str, Query(max_length=40, description="of the axis")] = AS_PLANNED,
) -> Response:
    """What it says now: the report's facts, worked out anew once the journal has changed."""
    shown = campaign_results(space, name, scale=scale)
    # Already of its model: checking it again would cost more than making it.
    return Response(RESULTS.dump_json(shown), media_type="application/json")


@router.get("/beside")
def beside(name: str, space: Space) -> list[BesideCampaign]:
    """Other campaigns that can be drawn over the same axis."""
    return campaigns_beside(space, name)


@router.get("/against")
def against(name: str, space: Space, asked: Annotated[AskedBeside, Query()]) -> ComparedBeside:
    """How far a curve lies from one of another campaign; refused if the two are unlike."""
    return compare_beside(space, name, asked)


@router.get("/trials")
def trials(name: str, space: Space, asked: Annotated[AskedTrials, Query()]) -> PointTrials:
    """Trials of one point, a page at a time."""
    return point_trials(space.campaign(name), asked)
