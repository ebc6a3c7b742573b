"""What the page shows of a campaign: the facts of the report, read on a scale that is asked for."""

from dataclasses import dataclass, replace

from solidcopy.actions.served import served
from solidcopy.actions.show_curves import ShownCurve, shown_curve
from solidcopy.actions.show_maps import ShownMap, shown_map
from solidcopy.actions.shown_estimate import (
    Scaled,
    three,
)
from solidcopy.actions.watch_campaign import watch_of
from solidcopy.actions.workspace import Workspace
from solidcopy.modes.registry import mode_named
from solidcopy.reports import sheets
from solidcopy.reports.answer import answer
from solidcopy.reports.axis_scales import AxisScale, axis_scales, scale_named
from solidcopy.reports.decision_words import decisions_sheet
from solidcopy.reports.estimates import signed_estimate
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.map_facts import folded
from solidcopy.reports.measured import PenaltyFacts
from solidcopy.reports.sheet import Sheet
from solidcopy.statistics.evidence import NoThreshold

WORKING = "Working out the curves and the answer …"


@served
@dataclass(frozen=True, slots=True)
class ShownPenalty:
    """How much farther along the axis a curve lies than the one it is compared with."""

    name: str
    against: str
    within: str
    """What both share: the receiver or the condition."""
    p: float
    """Share of the messages at which it is read."""
    shift: float | None
    """Judged in pairs, in the axis' unit; null where it cannot be given."""
    low: float | None
    high: float | None
    words: str
    """The difference with as many digits as it deserves, or why there is none."""


@served
@dataclass(frozen=True, slots=True)
class ShownAxis:
    """The swept field, read on one of its scales."""

    label: str
    """Quantity, with the bandwidth of an SNR, and unit."""
    step_unit: str
    """Of a difference."""
    scale: str
    """Key of the scale that was asked for."""
    scales: tuple[AxisScale, ...]
    x: tuple[float, ...]
    """The values of the plan on that scale."""


@served
@dataclass(frozen=True, slots=True)
class Results:
    """What a campaign says now, finished or not."""

    stamp: str
    """Of the journal that it rests on; empty while it is preliminary."""
    is_preliminary: bool
    """Curves, comparisons and the answer are being worked out: only the counts are there."""
    title: str
    headline: str
    """The sentence that answers the question, or why there is none yet."""
    supports: tuple[str, ...]
    """The sentences under it."""
    n_done: int
    n_planned: int
    is_finished: bool
    stop_rule: str
    """In words."""
    axis: ShownAxis
    curves: tuple[ShownCurve, ...]
    """Of the conditions that are on no map."""
    penalties: tuple[ShownPenalty, ...]
    """Of the conditions that are on no map."""
    maps: tuple[ShownMap, ...]
    verdicts: Sheet | None
    """Who decodes more, of a campaign that runs until that is decided. Like the other tables, the
    report's."""
    differences: Sheet | None
    """Penalties with their intervals and pairs; null if nothing is compared."""
    false_decodes: Sheet
    failures: Sheet | None
    """By reason; null if there are none."""
    counts: Sheet
    """Behind the curves."""


def campaign_results(workspace: Workspace, name: str, *, scale: str) -> Results:
    """What a campaign of the bench folder says now; in a moment, so at first by its counts only.

    Args:
        scale: key of one of `axis_scales`.
    Raises: NotThereError, JournalError; PlanError if the axis has no such scale.
    """
    watch = watch_of(workspace.campaign(name))
    found = watch.figures_soon()
    if found is not None:
        return show_results(*found, scale=scale)
    first = show_results("", watch.counts(), scale=scale)
    return replace(first, is_preliminary=True, headline=WORKING, supports=())


def show_results(stamp: str, facts: CampaignFacts, *, scale: str) -> Results:
    """The facts, as a page shows them.

    Args:
        stamp: of the journal that they rest on.
        facts: of the campaign, from `gather` or `gather_figures`.
        scale: key of one of `axis_scales`.
    Raises: PlanError if the axis has no such scale.
    """
    mode = mode_named(facts.mode.name).facts
    scaled = Scaled(scale_named(scale, facts.axis, mode), facts.axis.unit)
    said, single_ones = answer(facts), folded(facts)
    return Results(
        stamp=stamp,
        is_preliminary=False,
        title=facts.title,
        headline=said.headline,
        supports=said.supports,
        n_done=facts.extent.n_done,
        n_planned=facts.extent.n_planned,
        is_finished=facts.extent.is_finished,
        stop_rule=facts.extent.stop_rule,
        axis=ShownAxis(
            label=scaled.scale.label,
            step_unit=facts.axis.step_unit,
            scale=scaled.scale.key,
            scales=axis_scales(facts.axis, mode),
            x=scaled.values(facts.axis.values),
        ),
        curves=tuple(shown_curve(single_ones, curve, scaled) for curve in single_ones.curves),
        penalties=tuple(_penalty(penalty) for penalty in single_ones.penalties),
        maps=tuple(shown_map(facts, a_map, scaled) for a_map in facts.maps),
        verdicts=decisions_sheet(facts),
        differences=sheets.penalties_sheet(single_ones) if single_ones.penalties else None,
        false_decodes=sheets.false_sheet(single_ones),
        failures=sheets.failures_sheet(single_ones),
        counts=sheets.counts_sheet(single_ones),
    )


def _penalty(penalty: PenaltyFacts) -> ShownPenalty:
    shift = penalty.shift
    value, low, high = three(shift)
    return ShownPenalty(
        name=penalty.name,
        against=penalty.against,
        within=penalty.within,
        p=penalty.p,
        shift=value,
        low=low,
        high=high,
        words=shift.reason if isinstance(shift, NoThreshold) else signed_estimate(shift),
    )
