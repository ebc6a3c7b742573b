"""How many trials an answer of a wished precision takes."""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from solidcopy.statistics.pairs import mcnemar_exact
from solidcopy.statistics.sensitivity import WORST_CONDITION
from solidcopy.statistics.shapes import Array, Form, shape_of

USUAL_SCALE = 0.8
"""Standard deviation, in dB, of the curve of a receiver of FT8 or FT4 in white noise: 0.75 to 0.93
measured over two modes and two efforts (docs/accuracy.md)."""

PLACED_WORTH, PLACED_SEARCH = 1.3, 40
"""Trials that adaptive placement takes over those of a known curve, as a factor, and to find the
threshold; measured for scales of 0.4 to 1.2 dB on a range of 12 dB (test_placement_sweep.py)."""


def trials_for_half_width(
    scale: float, step: float, half_width: float, *, confidence: float = 0.95
) -> int:
    """Trials at each axis value for a 50 % threshold known to ± `half_width`.

    Args:
        scale: standard deviation of the curve, in axis units (the scale of a probit curve).
        step: distance of the axis values; about the scale or less, over the whole rise.
        half_width: wished half width of the interval, axis units.
        confidence: two-sided.
    Returns: n of each axis value, at least 1.
    Source: variance step · scale / (√π · n) of the Spearman–Kärber mean of a normal curve,
        FACTS E5 (verified there by simulation).
    """
    if min(scale, step, half_width) <= 0.0 or not 0.0 < confidence < 1.0:
        raise ValueError("scale, step and half_width must be positive, 0 < confidence < 1")
    z = float(special.ndtri(0.5 + confidence / 2.0))
    return max(1, math.ceil(step * scale / math.sqrt(math.pi) * (z / half_width) ** 2))


def more_trials_needed(half_width: float, n: int, target: float) -> int:
    """About how many trials more bring an interval from its half width to the target.

    Args:
        half_width: of the present interval, from `n` trials (of one point or of all).
        n: trials so far, >= 1.
        target: wished half width, > 0.
    Returns: further trials, spread like the ones so far; 0 if the target is met.
    Source: half widths shrink with 1/√n; derived here.
    """
    if half_width < 0.0 or target <= 0.0 or n < 1:
        raise ValueError(f"impossible: half width {half_width}, target {target}, n {n}")
    return max(0, math.ceil(n * (half_width / target) ** 2) - n)


@dataclass(frozen=True, slots=True)
class AssumedCurve:
    """A curve as it is supposed to be.

    Args:
        midpoint, scale, lapse, form: as of a fitted `Curve`.
        blur: of the form "faded".
    """

    midpoint: float
    scale: float = USUAL_SCALE
    lapse: float = 0.0
    form: Form = "probit"
    blur: float = 0.0

    def probability(self, values: Array) -> Array:
        """Of a decode."""
        shape = shape_of(self.form, self.blur)
        below = shape.evaluate(shape.clipped((values - self.midpoint) / self.scale))[0]
        return (1.0 - self.lapse) * below

    def standard_error(self, values: Array, p: float) -> float:
        """Of the threshold at `p` from one trial at each axis value; n trials: over √n.

        Returns: axis units; infinite where the values do not bound the threshold.
        Source: information of midpoint, scale and lapse; derived here, held against simulated
            intervals in the tests.
        """
        shape, top = shape_of(self.form, self.blur), 1.0 - self.lapse
        if p >= top:
            return math.inf
        z = shape.clipped((values - self.midpoint) / self.scale)
        below, above, density = shape.evaluate(z)
        slope = -top * density / self.scale
        spread = np.sqrt(top * below * (self.lapse + top * above))
        root = np.column_stack([slope, slope * z, -below]) / spread[:, None]
        ratio = np.array(p / top)
        z_p = shape.quantile(ratio)
        by_lapse = self.scale * float(ratio / top / shape.evaluate(z_p)[2])
        gradient = np.array([1.0, float(z_p), by_lapse])
        # High values show a lapse of nothing to be nothing: its row may be far larger than others.
        unit = np.maximum(np.sqrt(np.square(root).sum(axis=0)), 1e-300)
        information = (root / unit).T @ (root / unit)
        if np.linalg.cond(information) > WORST_CONDITION:
            return math.inf
        error = gradient / unit @ np.linalg.solve(information, gradient / unit)
        return math.sqrt(float(error))

    def anywhere(self, values: Array, p: float) -> float:
        """As `standard_error`, the mean over all places of the curve between two axis values."""
        gap = float(np.median(np.diff(values)))
        moved = [self.moved(off * gap) for off in (-0.375, -0.125, 0.125, 0.375)]
        return float(np.mean([curve.standard_error(values, p) for curve in moved]))

    def moved(self, shift: float) -> "AssumedCurve":
        """The same curve, so far to the right."""
        return replace(self, midpoint=self.midpoint + shift)

    def placed_error(self, p: float) -> float:
        """Standard error from one trial where it tells most, the rest of the curve being known.

        Source: √(p (1 − p)) over the slope at the threshold; textbook.
        """
        shape, top = shape_of(self.form, self.blur), 1.0 - self.lapse
        if p >= top:
            return math.inf
        density = float(shape.evaluate(shape.quantile(np.array(p / top)))[2])
        return math.sqrt(p * (1.0 - p)) * self.scale / (top * density)


def trials_for(standard_error: float, wanted: float) -> int | None:
    """Trials that bring a standard error, of one trial, down to what is wanted.

    Returns: at least 1; None where no number does.
    """
    if not math.isfinite(standard_error):
        return None
    return max(1, math.ceil((standard_error / wanted) ** 2))


def placed_trials_for(standard_error: float, wanted: float) -> int | None:
    """The same for all trials of an adaptively placed curve together, by `placed_error`."""
    n = trials_for(standard_error, wanted)
    return None if n is None else math.ceil(PLACED_WORTH * n) + PLACED_SEARCH


def wanted_error(half_width: float, *, confidence: float = 0.95) -> float:
    """Standard error with which an interval has that half width."""
    return half_width / float(special.ndtri(0.5 + confidence / 2.0))


def detecting_error(difference: float, *, power: float, risk: float) -> float:
    """Standard error with which a true difference is found with that power.

    Args:
        difference: > 0.
        power: probability that the interval leaves out zero on the right side, in (1/2, 1).
        risk: of an interval that leaves out zero though there is no difference.
    Source: textbook; held against statsmodels in the tests.
    """
    if difference <= 0.0 or not 0.5 < power < 1.0 or not 0.0 < risk < 1.0:
        raise ValueError(f"impossible: difference {difference}, power {power}, risk {risk}")
    return difference / float(special.ndtri(1.0 - risk / 2.0) + special.ndtri(power))


@dataclass(frozen=True, slots=True)
class Unlike:
    """Of all trials that two sides meet, averaged over the axis: who alone decodes.

    Args:
        p_only_a, p_only_b: share of trials that this side decodes and the other one misses.
    """

    p_only_a: float
    p_only_b: float

    @classmethod
    def of(cls, a: AssumedCurve, b: AssumedCurve, values: Array, correlation: float) -> "Unlike":
        """From both curves and the correlation of their outcomes at an axis value.

        Where the curves lie so far apart that they cannot correlate so much, as much as possible.
        Source: covariance of two yes-no outcomes; derived here.
        """
        p_a, p_b = a.probability(values), b.probability(values)
        spread = np.sqrt(p_a * (1.0 - p_a) * p_b * (1.0 - p_b))
        both = np.clip(p_a * p_b + correlation * spread, 0.0, np.minimum(p_a, p_b))
        return cls(float(np.mean(p_a - both)), float(np.mean(p_b - both)))

    @property
    def share(self) -> float:
        """Of trials that one side alone decodes."""
        return self.p_only_a + self.p_only_b

    @property
    def share_a(self) -> float:
        """Of these: decoded by a."""
        return self.p_only_a / self.share if self.share > 0.0 else 0.5


def mcnemar_power(n: int, unlike: Unlike, *, risk: float = 0.05) -> float:
    """Probability that the exact McNemar test of n pairs calls the side better that is.

    Source: both counts summed exactly; held against simulation in the tests.
    """
    better = max(unlike.share_a, 1.0 - unlike.share_a)
    most = _most(n, unlike.share)
    weights = special.bdtr(np.arange(most + 1), n, unlike.share)
    power = 0.0
    for n_unlike, weight in enumerate(np.diff(weights, prepend=0.0)):
        least = _least_significant(n_unlike, risk)
        if weight > 0.0 and least <= n_unlike:
            power += float(weight) * float(special.bdtrc(least - 1, n_unlike, better))
    return power


def _most(n: int, p: float) -> int:
    """More of n events hardly ever happen (six standard deviations)."""
    return min(n, math.ceil(n * p + 6.0 * math.sqrt(n * p * (1.0 - p)) + 6.0))


def _least_significant(n: int, risk: float) -> int:
    """Least count of n that the exact test calls too many; n + 1 if even n is not."""
    low, high = n // 2, n + 1
    while high - low > 1:
        middle = (low + high) // 2
        if mcnemar_exact(middle, n - middle) <= risk:
            high = middle
        else:
            low = middle
    return high


def pairs_for_power(unlike: Unlike, *, power: float, risk: float = 0.05) -> int | None:
    """Pairs with which the exact McNemar test finds the better side with that power.

    Returns: None where neither side is better, or a million pairs are too few.
    """
    if unlike.p_only_a == unlike.p_only_b:
        return None
    high = 8
    while mcnemar_power(high, unlike, risk=risk) < power:
        high *= 2
        if high > 1_000_000:
            return None
    low = high // 2
    while high - low > max(1, low // 200):
        middle = (low + high) // 2
        if mcnemar_power(middle, unlike, risk=risk) >= power:
            high = middle
        else:
            low = middle
    return high
