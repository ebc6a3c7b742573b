"""A campaign in a list: how far it came and what it answers."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field

from solidcopy.actions.watch_campaign import watch_of
from solidcopy.campaigns.journal.lock import holder
from solidcopy.campaigns.progress import CurveProgress
from solidcopy.errors import SolidcopyError
from solidcopy.reports.answer import answer

AT_WORK_WORDS = "The answer is being worked out."
MOST_SMALL_CURVES = 8
"""More cannot be told apart in a small picture."""


@dataclass(frozen=True, slots=True)
class SmallCurve:
    """Counts along one curve, for a small picture."""

    name: Annotated[str, Field(description="of the condition, or of the receiver")]
    axis_values: Annotated[tuple[float, ...], Field(description="ascending")]
    n_decoded: Annotated[tuple[int, ...], Field(description="at each of them")]
    n_scored: Annotated[tuple[int, ...], Field(description="at each of them; failures left out")]


@dataclass(frozen=True, slots=True)
class CampaignCard:
    """One campaign in a list: how far it came and what it answers."""

    name: Annotated[str, Field(description="of its folder")]
    title: Annotated[str, Field(description="of its plan; its name if that has none")]
    n_done: Annotated[int, Field(description="trials tried, each receiver counted")]
    n_planned: Annotated[int, Field(description="at most; a precision may be reached before")]
    is_running: Annotated[bool, Field(description="a process carries it out now")]
    is_finished: Annotated[bool, Field(description="it has all that its plan asks for")]
    sentence: Annotated[
        str,
        Field(
            description="the answer so far, or why there is none; while it "
            "runs, of some seconds ago"
        ),
    ]
    curves: Annotated[
        tuple[SmallCurve, ...], Field(description=f"the first {MOST_SMALL_CURVES} that have counts")
    ] = ()
    is_settled: Annotated[
        bool, Field(description="false while the sentence is being worked out: ask again soon")
    ] = True


def campaign_card(name: str, folder: Path, *, is_exact: bool) -> CampaignCard:
    """What one campaign says now. A journal that cannot be read says so instead of an answer.

    Args:
        name: shown where the plan has no title.
        folder: of the campaign.
        is_exact: wait for the answer, however long the fits take, unless a run changes it anyway.
    """
    try:
        watch = watch_of(folder)
        state = watch.state(name)
        sentence, is_settled = "Nothing tried yet.", True
        if state.n_done:
            waits = is_exact and not state.is_running
            found = watch.figures(is_exact=True) if waits else watch.figures_soon()
            sentence = AT_WORK_WORDS if found is None else answer(found[1]).headline
            is_settled = found is not None and (state.is_running or found[0] == state.stamp)
    except SolidcopyError as error:
        return CampaignCard(name, name, 0, 0, holder(folder) is not None, False, str(error))
    is_one_receiver = len({curve.receiver_name for curve in state.curves}) == 1
    curves = (_small(curve, is_one_receiver) for curve in state.curves[:MOST_SMALL_CURVES])
    return CampaignCard(
        name,
        state.title,
        state.n_done,
        state.n_planned,
        state.is_running,
        state.is_finished,
        sentence,
        tuple(curve for curve in curves if curve.axis_values),
        is_settled,
    )


def _small(curve: CurveProgress, is_one_receiver: bool) -> SmallCurve:
    points = [point for point in curve.points if point.n_scored]
    name = curve.condition_name
    return SmallCurve(
        name if is_one_receiver else f"{name}, {curve.receiver_name}",
        tuple(point.axis_value for point in points),
        tuple(point.n_decoded for point in points),
        tuple(point.n_scored for point in points),
    )
