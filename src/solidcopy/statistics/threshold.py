"""Thresholds: the axis value at which a share p of the messages is decoded, with its interval."""

import math
from dataclasses import dataclass

from solidcopy.statistics.curve import Curve, curve_of, fit_curve
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.statistics.model import MAX_LAPSE, CurveModel
from solidcopy.statistics.points import Points
from solidcopy.statistics.profile import Region, threshold_range
from solidcopy.statistics.shapes import Form

__all__ = ["NoThreshold", "Reading", "Threshold", "read_curve", "read_threshold"]


@dataclass(frozen=True, slots=True)
class Threshold:
    """An axis value where the probability of a decode is `p`.

    Args:
        p: the probability asked for.
        value: most likely axis value; where a whole stretch is equally likely, its middle.
        interval: holds `value`, always finite.
        form: shape of the curve behind it.
    """

    p: float
    value: float
    interval: Interval
    form: Form


def read_threshold(
    points: Points,
    *,
    p: float = 0.5,
    confidence: float = 0.95,
    form: Form = "probit",
    max_lapse: float = MAX_LAPSE,
) -> Threshold | NoThreshold:
    """Threshold with a profile-likelihood interval. Needs no random numbers.

    Args:
        points: counts along the axis.
        p: 0 < p < 1; the fitted probability includes the lapse.
        confidence: two-sided.
        form, max_lapse: as for `fit_curve`.
    Returns: the threshold, or the reason why there is none. None is given unless the interval
        ends at most one step of the axis outside the tested values: the rest would be
        extrapolation.
    Source: derived here; docs/explanation/statistics.md holds the measured coverage.
    """
    reading = read_curve(points, (p,), confidence=confidence, form=form, max_lapse=max_lapse)
    return reading.thresholds[p]


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """A curve and some of its thresholds.

    Args:
        curve: as from `fit_curve`.
        thresholds: by the share p, as from `read_threshold`.
    """

    curve: Curve | NoThreshold
    thresholds: dict[float, Threshold | NoThreshold]


def read_curve(
    points: Points,
    shares: tuple[float, ...],
    *,
    confidence: float = 0.95,
    form: Form = "probit",
    max_lapse: float = MAX_LAPSE,
) -> Reading:
    """The curve and several thresholds at the price of one fit.

    Args:
        shares: probabilities p at which thresholds are read.
        points, confidence, form, max_lapse: as for `read_threshold`.
    """
    if not all(0.0 < p < 1.0 for p in (*shares, confidence)):
        raise ValueError(f"p and confidence must lie between 0 and 1: {shares}, {confidence}")
    scored = points.scored()
    if scored.values.size < 2:
        curve = fit_curve(points, form, max_lapse=max_lapse)
        assert isinstance(curve, NoThreshold)
        return Reading(curve, dict.fromkeys(shares, curve))
    region = Region.of(scored, CurveModel(form, max_lapse), confidence)
    curve = curve_of(scored, region.fits)
    if isinstance(curve, NoThreshold) and _is_mixed(scored):
        return Reading(curve, dict.fromkeys(shares, curve))
    return Reading(curve, {p: _threshold(region, curve, p, confidence) for p in shares})


def _threshold(
    region: Region, curve: Curve | NoThreshold, p: float, confidence: float
) -> Threshold | NoThreshold:
    scored = region.points
    low, high = threshold_range(region, p)
    if isinstance(curve, NoThreshold):
        return _without(curve.reason, low, high)
    refusal = _why_not(scored, p, low, high)
    if refusal is not None:
        return refusal
    value = curve.threshold(p)
    if isinstance(value, NoThreshold):
        return _without(value.reason + ": add trials at high values", low, high)
    interval = Interval(low, high, confidence, _method(scored))
    return Threshold(p, value, interval, region.fits.model.form)


def _method(points: Points) -> str:
    return "profile likelihood" + (", groups of trials" if points.clustering else "")


def _is_mixed(scored: Points) -> bool:
    """Whether some messages were decoded and some missed."""
    return 0 < int(scored.n_decoded.sum()) < int(scored.n_scored.sum())


def _without(reason: str, low: float, high: float) -> NoThreshold:
    """The reason, with the side on which the threshold must lie, if only one is open."""
    if math.isfinite(low) and not math.isfinite(high):
        return NoThreshold(reason, "above", low)
    if math.isfinite(high) and not math.isfinite(low):
        return NoThreshold(reason, "below", high)
    return NoThreshold(reason)


def _why_not(scored: Points, p: float, low: float, high: float) -> NoThreshold | None:
    share, values = scored.share, scored.values
    best, worst = int(share.argmax()), int(share.argmin())
    if share[best] < p:
        reason = (
            f"{p:g} was never reached: highest {share[best]:.2g} at "
            f"{scored.label(values[best])}; add higher values"
        )
        return _without(reason, low, math.inf)
    if share[worst] > p:
        reason = (
            f"never below {p:g}: lowest {share[worst]:.2g} at {scored.label(values[worst])}; "
            "add lower values"
        )
        return _without(reason, -math.inf, high)
    sides = [name for name, end in (("lower", low), ("higher", high)) if not math.isfinite(end)]
    if not sides:
        return None
    where = " and ".join(sides)
    reason = (
        f"the trials do not bound the {p:g} point on the {where} side: add trials or values there"
    )
    return _without(reason, low, high)
