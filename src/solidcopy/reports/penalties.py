"""Penalties of a report: curves compared with the first, trial against trial."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.curves import NO_RISE, SHARES, in_percent, p_fit, turned
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.map_facts import first_of
from solidcopy.reports.measured import (
    Estimate,
    MoreTrials,
    PairsFacts,
    PenaltyFacts,
    is_doubtful_fit,
)
from solidcopy.statistics.comparison import penalty_between
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.statistics.pairs import PairedTrials, equal_shares_p
from solidcopy.statistics.planning import more_trials_needed
from solidcopy.statistics.threshold import Reading
from solidcopy.trials.plan import Plan

CurvePlaces = tuple[int, int]
"""0-based places of a condition and a receiver in the plan."""


@dataclass(frozen=True, slots=True)
class Comparing:
    """What a comparison is about, before its figures."""

    compares: Literal["condition", "receiver"]
    name: str
    against: str
    within: str
    readings: tuple[Reading, Reading]
    """Curves of `against` and of `name`, as from `curves.read`."""


@dataclass(frozen=True, slots=True)
class Precision:
    """When an undecided comparison is precise enough, and how fast trials are made."""

    half_width: float
    seconds_per_trial: float | None


def all_penalties(
    reader: JournalReader,
    axis: AxisFacts,
    readings: Mapping[CurvePlaces, Reading],
    precision: Precision | None,
) -> Iterator[PenaltyFacts]:
    """Every comparison with the first: conditions for each receiver, receivers for each condition.

    Args:
        reader: of the campaign.
        axis: its axis in words.
        readings: of every curve, as from `curves.read`.
        precision: when an undecided comparison is precise enough.
    Returns: at 50 %, and at 90 % only where that can be determined.
    """
    for compares, first, this in _pairs_of_curves(reader.plan):
        comparing = _named(reader.plan, compares, (first, this), readings)
        paired = reader.paired(first, this)
        for p in SHARES:
            facts = penalty_facts(comparing, paired, p=p, axis=axis, precision=precision)
            if p == SHARES[0] or isinstance(facts.shift, Estimate):
                yield facts


def _pairs_of_curves(
    plan: Plan,
) -> Iterator[tuple[Literal["condition", "receiver"], CurvePlaces, CurvePlaces]]:
    """What differs, the first, and what is compared with it."""
    n_conditions, n_receivers = len(plan.conditions), len(plan.receivers)
    for receiver, condition in product(range(n_receivers), range(n_conditions)):
        against = first_of(plan, condition)
        if against is not None:
            yield "condition", (against, receiver), (condition, receiver)
    for condition, receiver in product(range(n_conditions), range(1, n_receivers)):
        yield "receiver", (condition, 0), (condition, receiver)


def _named(
    plan: Plan,
    compares: Literal["condition", "receiver"],
    places: tuple[CurvePlaces, CurvePlaces],
    readings: Mapping[CurvePlaces, Reading],
) -> Comparing:
    """The comparison of two curves, the first of them at the first place."""
    first, this = places
    conditions = [plan.conditions[place[0]].name for place in places]
    receivers = [plan.receivers[place[1]].name for place in places]
    names, within = (
        (conditions, receivers[0]) if compares == "condition" else (receivers, conditions[0])
    )
    return Comparing(compares, names[1], names[0], within, (readings[first], readings[this]))


def penalty_facts(
    comparing: Comparing,
    paired: PairedTrials,
    *,
    p: float,
    axis: AxisFacts,
    precision: Precision | None,
) -> PenaltyFacts:
    """One paired comparison; side a is the first, side b the one in question."""
    is_falling = axis.sense == "interference"
    found = penalty_between(paired.mirrored() if is_falling else paired, *comparing.readings, p)
    shift: Estimate | NoThreshold
    more = None
    if isinstance(found, NoThreshold):
        reason = in_percent(found).reason.replace("side a: ", f"“{comparing.against}”: ")
        shift = replace(found, reason=reason.replace("side b: ", f"“{comparing.name}”: "))
    elif axis.sense == "other" and not all(map(_rises, comparing.readings)):
        shift = NO_RISE
    else:
        shift = Estimate(found.value, found.interval)
        shift = turned(shift) if is_falling else shift
        more = _more(shift.interval, paired, precision)
    return PenaltyFacts(
        compares=comparing.compares,
        name=comparing.name,
        against=comparing.against,
        within=comparing.within,
        p=p,
        shift=shift,
        pairs=_pairs(paired),
        more=more,
    )


def _pairs(paired: PairedTrials) -> PairsFacts:
    n_first = sum(point.n_only_a for point in paired.points)
    n_this = sum(point.n_only_b for point in paired.points)
    size = math.lcm(*paired.n_together)
    return PairsFacts(paired.n_pairs, n_this, n_first, equal_shares_p(paired), size)


def _rises(reading: Reading) -> bool:
    """Whether the points follow a rising curve at all."""
    curve = reading.curve
    return not isinstance(curve, NoThreshold) and not is_doubtful_fit(p_fit(curve))


def _more(
    interval: Interval, paired: PairedTrials, precision: Precision | None
) -> MoreTrials | None:
    """What an undecided comparison still needs; None if it is decided or precise enough."""
    if precision is None or not interval.holds(0.0) or interval.half_width <= precision.half_width:
        return None
    n_so_far = sum(int(point.scored_a.sum() + point.scored_b.sum()) for point in paired.points)
    n = more_trials_needed(interval.half_width, n_so_far, precision.half_width)
    rate = precision.seconds_per_trial
    return MoreTrials(precision.half_width, n, None if rate is None else n * rate)
