"""How far the curves of two receivers lie apart, as facts. Positive: B needs more."""

import math
from collections.abc import Sequence
from dataclasses import replace

from solidcopy.reports.curves import CONFIDENCE
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import shares_as_percent
from solidcopy.statistics.duel import threshold_difference
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.statistics.pairs import PairedTrials
from solidcopy.statistics.shapes import Form

HALF = 0.5


def paired_shift(
    paired: PairedTrials,
    axis: AxisFacts,
    forms: tuple[Form, Form],
    *,
    confidence: float = CONFIDENCE,
    sides: tuple[str, str] = ("A", "B"),
) -> Estimate | NoThreshold:
    """Threshold of side b less that of side a at 50 %.

    Along an axis of interference, where right is harder, the sign is turned, so that positive means
    in every case that b is the worse one.

    Args:
        paired: outcomes of both.
        axis: says whether right is easier.
        forms: of the curves of a and b.
        confidence: two-sided.
        sides: what a and b are called in reasons.
    """
    is_falling = axis.sense == "interference"
    found = threshold_difference(
        paired.mirrored() if is_falling else paired, p=HALF, confidence=confidence, forms=forms
    )
    if not isinstance(found, NoThreshold):
        return Estimate(found.value, found.interval)
    if is_falling:  # its sentences would name mirrored values
        which = [name for letter, name in zip("ab", sides, strict=True) if _is_about(found, letter)]
        reason = f"the trials do not bound the 50 % point of {' and '.join(which)}"
        return replace(found, reason=f"{reason}: add trials or axis values")
    reason = shares_as_percent(found.reason)
    for letter, name in zip("ab", sides, strict=True):
        reason = reason.replace(f"side {letter}: ", f"{name}: ")
    return replace(found, reason=reason)


def _is_about(found: NoThreshold, letter: str) -> bool:
    return f"side {letter}: " in found.reason


def mean_estimate(
    named: Sequence[tuple[str, Estimate | NoThreshold]],
) -> Estimate | NoThreshold:
    """Mean of figures that share an unknown part of their luck.

    The interval is the mean of the single ones, end by end: right if they share all their luck,
    and too long otherwise.

    Args:
        named: at least one, each with the name of what it belongs to.
    Returns: the mean; without one of the figures, why.
    Source: the standard deviation of a mean is at most the mean of the standard deviations.
    """
    there = []
    for name, one in named:
        if isinstance(one, NoThreshold):
            return NoThreshold(f"“{name}”: {one.reason}")
        there.append(one)
    n = len(there)
    first = there[0].interval
    interval = Interval(
        sum(one.interval.low for one in there) / n,
        sum(one.interval.high for one in there) / n,
        first.confidence,
        first.method if n == 1 else f"mean of intervals ({first.method})",
    )
    return Estimate(sum(one.value for one in there) / n, interval)


def difference_of_shifts(
    first: Estimate | NoThreshold, second: Estimate | NoThreshold
) -> Estimate | NoThreshold:
    """First less second, as if they shared no luck: too long an interval if they share some.

    Source: square-root rule for the ends of both intervals, as in `penalty`.
    """
    for one in (first, second):
        if isinstance(one, NoThreshold):
            return NoThreshold(one.reason)
    assert isinstance(first, Estimate) and isinstance(second, Estimate)
    value = first.value - second.value
    low = value - math.hypot(first.value - first.interval.low, second.interval.high - second.value)
    high = value + math.hypot(first.interval.high - first.value, second.value - second.interval.low)
    method = "joined profile likelihoods, taken as independent"
    return Estimate(value, Interval(low, high, first.interval.confidence, method))
