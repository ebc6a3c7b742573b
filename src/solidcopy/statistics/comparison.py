"""Paired comparison of two curves: by how many axis units does b need more than a?"""

import math
from dataclasses import dataclass
from enum import StrEnum

from solidcopy.statistics.curve import Curve
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.statistics.model import MAX_LAPSE
from solidcopy.statistics.pairs import PairedPoint, PairedTrials, mcnemar_exact, mcnemar_mid_p
from solidcopy.statistics.sensitivity import threshold_correlation
from solidcopy.statistics.shapes import Form
from solidcopy.statistics.threshold import Reading, Threshold, read_curve

__all__ = [
    "PairedPoint",
    "PairedTrials",
    "Penalty",
    "Verdict",
    "mcnemar_exact",
    "mcnemar_mid_p",
    "penalty",
    "penalty_between",
]


class Verdict(StrEnum):
    """What the interval says about the sign of the penalty."""

    B_NEEDS_MORE = "b needs more"
    B_NEEDS_LESS = "b needs less"
    NOT_SHOWN = "no difference shown"


@dataclass(frozen=True, slots=True)
class Penalty:
    """Threshold of b less threshold of a: what b needs more for the same share of messages.

    Args:
        value: in axis units; positive if b needs more.
        interval: holds `value`.
        n_pairs: trials scored on both sides.
        p: share of messages at which the thresholds were read.
        verdict: whether the interval leaves out zero, and on which side.
        correlation: of the two thresholds, from the pairs; 0 where nothing is shared.
        threshold_a, threshold_b: what was subtracted.
    """

    value: float
    interval: Interval
    n_pairs: int
    p: float
    verdict: Verdict
    correlation: float
    threshold_a: Threshold
    threshold_b: Threshold


def penalty(
    paired: PairedTrials,
    *,
    p: float = 0.5,
    confidence: float = 0.95,
    form: Form | tuple[Form, Form] = "probit",
    max_lapse: float = MAX_LAPSE,
) -> Penalty | NoThreshold:
    """Paired penalty with its interval. Needs no random numbers.

    Each side has its own profile-likelihood interval; the two are joined by the square-root
    rule for the difference of correlated estimates, end by end, so that lopsided intervals
    stay lopsided. The correlation comes from the pairs. Where a curve is too steep for the
    axis step (perfect separation) the correlation is taken as 0, which makes the interval
    longer, never shorter, as long as common noise moves both sides the same way.

    Args:
        paired: outcomes of both sides; the sets of axis values may differ.
        p, confidence, max_lapse: as for `read_threshold`.
        form: of both curves, or of a and b.
    Returns: the penalty, or the reasons of the sides that have no threshold; its limit is then
        one of the penalty ("at least 4 dB"), if the other side has a threshold.
    Source: method of variance estimates recovery (G. Y. Zou and A. Donner, 2008; from memory),
        correlation derived here; docs/explanation/statistics.md holds the measured coverage.
    """
    points = paired.side_a(), paired.side_b()
    forms = (form, form) if isinstance(form, str) else form
    a, b = (
        read_curve(side, (p,), confidence=confidence, form=own, max_lapse=max_lapse)
        for side, own in zip(points, forms, strict=True)
    )
    return penalty_between(paired, a, b, p)


def penalty_between(
    paired: PairedTrials, side_a: Reading, side_b: Reading, p: float
) -> Penalty | NoThreshold:
    """As `penalty`, from sides that were read before.

    Args:
        paired: outcomes of both sides.
        side_a, side_b: what `read_curve` says of them, the threshold at `p` included.
        p: as for `read_threshold`.
    """
    a, b = side_a.thresholds[p], side_b.thresholds[p]
    if isinstance(a, NoThreshold) or isinstance(b, NoThreshold):
        return _without(a, b)
    assert isinstance(side_a.curve, Curve) and isinstance(side_b.curve, Curve)
    correlation = threshold_correlation(paired, side_a.curve, side_b.curve, p)
    method = "paired profile likelihood" if paired.n_pairs else "joined profile likelihoods"
    value, interval = _join(a, b, correlation, method)
    return Penalty(value, interval, paired.n_pairs, p, _verdict(interval), correlation, a, b)


def _without(a: Threshold | NoThreshold, b: Threshold | NoThreshold) -> NoThreshold:
    """Why there is no penalty, and what is known of it all the same.

    The limit joins two interval ends, each missed in one direction by half of what the
    confidence leaves: both together hold at the confidence asked for.
    """
    named = (("a", a), ("b", b))
    reason = "; ".join(
        f"side {name}: {side.reason}" for name, side in named if isinstance(side, NoThreshold)
    )
    if isinstance(a, Threshold) and isinstance(b, NoThreshold) and b.limit is not None:
        known = a.interval.high if b.bound == "above" else a.interval.low
        return NoThreshold(reason, b.bound, b.limit - known)
    if isinstance(b, Threshold) and isinstance(a, NoThreshold) and a.limit is not None:
        if a.bound == "above":
            return NoThreshold(reason, "below", b.interval.high - a.limit)
        return NoThreshold(reason, "above", b.interval.low - a.limit)
    return NoThreshold(reason)


def _verdict(interval: Interval) -> Verdict:
    if interval.low > 0.0:
        return Verdict.B_NEEDS_MORE
    return Verdict.B_NEEDS_LESS if interval.high < 0.0 else Verdict.NOT_SHOWN


def _join(a: Threshold, b: Threshold, correlation: float, method: str) -> tuple[float, Interval]:
    """Difference b − a and its interval from the two intervals and their correlation."""

    def arm(first: float, second: float) -> float:
        square = first * first + second * second - 2.0 * correlation * first * second
        return math.sqrt(max(0.0, square))

    value = b.value - a.value
    low = value - arm(b.value - b.interval.low, a.interval.high - a.value)
    high = value + arm(b.interval.high - b.value, a.value - a.interval.low)
    return value, Interval(low, high, a.interval.confidence, method)
