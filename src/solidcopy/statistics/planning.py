"""How many trials an answer of a wished precision takes."""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from solidcopy.statistics.evidence import Interval
from solidcopy.statistics.sensitivity import WORST_CONDITION
from solidcopy.statistics.shapes import Array, Form, shape_of

USUAL_SCALE = 0.8
"""Standard deviation, in dB, of the curve of a receiver of FT8 or FT4 in white noise: 0.75 to 0.93
measured over two modes and two efforts (docs/accuracy.md)."""

POWER = 0.8
"""Share of duels that are to find the difference for which further trials are planned."""

PLACED_WORTH, PLACED_OFF_MIDDLE, PLACED_SEARCH, PLACED_FEWEST = 1.32, 0.12, 40, 180
"""Trials that adaptive placement takes: so many times those of a known curve at the 50 % point, by
so much more for each standard deviation that the threshold lies off the middle (the scale matters
there), and some to find it; never fewer than the last, as it wants the scale known to a fifth.
Within 4 % of the mean of 400 simulated campaigns for scales of 0.3 to 2 dB, 50 and 90 %, ±0.1 dB,
0.5 dB steps over 12 dB (tests/reference/test_planning_against_statsmodels.py). Not so far where
the steps are coarser than the scale and more than the fewest are needed: up to a third too few."""


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
    if not 0.0 <= half_width < math.inf or target <= 0.0 or n < 1:
        raise ValueError(f"impossible: half width {half_width}, target {target}, n {n}")
    total = trials_for(half_width * math.sqrt(n), target)
    assert total is not None  # the half width is finite
    return max(0, total - n)


def trials_to_find(interval: Interval, n: int, difference: float, *, power: float = POWER) -> int:
    """About how many trials more find a true difference of that size.

    The computation of `solidcopy plan trials`, with the standard error that has been reached in
    place of an assumed one.

    Args:
        interval: of the difference, from `n` trials.
        n: trials so far, >= 1.
        difference: true size that is to be found, > 0.
        power: share of duels that then find it.
    Returns: further trials, spread like the ones so far; 0 if there are enough.
    Source: `detecting_error`; standard errors shrink with 1/√n. Held against statsmodels and
        simulated duels in the tests.
    """
    reached = wanted_error(interval.half_width, confidence=interval.confidence)
    wanted = detecting_error(difference, power=power, risk=1.0 - interval.confidence)
    return more_trials_needed(reached, n, wanted)


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

    def placed_worth(self, p: float) -> float:
        """Trials of adaptive placement over those of `placed_error`, as a factor."""
        top = 1.0 - self.lapse
        off = abs(float(special.ndtri(p / top))) if p < top else math.inf
        return PLACED_WORTH + PLACED_OFF_MIDDLE * off


def trials_for(standard_error: float, wanted: float) -> int | None:
    """Trials that bring a standard error, of one trial, down to what is wanted.

    Returns: at least 1; None where no number does.
    """
    if not math.isfinite(standard_error):
        return None
    # A rounding error is no trial.
    return max(1, math.ceil((standard_error / wanted) ** 2 * (1.0 - 1e-12)))


def placed_trials_for(standard_error: float, wanted: float, *, worth: float) -> int | None:
    """The same for all trials of an adaptively placed curve together.

    Args:
        standard_error: by `placed_error`.
        wanted: to be reached.
        worth: by `placed_worth`.
    """
    n = trials_for(standard_error, wanted)
    return None if n is None else max(PLACED_FEWEST, math.ceil(worth * n) + PLACED_SEARCH)


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
