"""Trials in stretches of one recording: how much a threshold hangs on which stretches there were.

Trials that were played in the same minute of a noise share its luck, at all axis values alike. So
each stretch is left out in turn, and the scatter of the thresholds tells how far another recording
of the same noise might move them (the delete-one jackknife on stretches of time).
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import special

from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.evidence import Interval, NoEvidence
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Form

LEAST_STRETCHES = 6
"""From fewer, a scatter is hardly more than a guess (Student's t then passes 2.6)."""
MOST_STRETCHES = 16
"""Stretches are joined to at most so many: each is then longer than what a slot cuts across."""


@dataclass(frozen=True, slots=True, eq=False)
class StretchedSide:
    """Scored trials of one curve.

    Args:
        values: (n_trials,) axis value of each.
        is_decoded: (n_trials,) bool.
        stretches: (n_trials,) number of the stretch that each was played in, from 0; None where no
            recording is played.
        form: of the curve.
    """

    values: NDArray[np.float64]
    is_decoded: NDArray[np.bool_]
    stretches: NDArray[np.int64] | None
    form: Form = "probit"

    def without(self, stretch: int) -> Points:
        """Counts of all trials but those of one stretch."""
        kept = np.ones(self.values.size, np.bool_)
        if self.stretches is not None:
            kept = self.stretches != stretch
        values, place = np.unique(self.values[kept], return_inverse=True)
        decoded = np.bincount(place, weights=self.is_decoded[kept]).astype(np.int64)
        return Points(values, decoded, np.bincount(place).astype(np.int64))


@dataclass(frozen=True, slots=True)
class StretchError:
    """Standard error of a difference of thresholds, stretches taken as the independent things."""

    standard_error: float
    n_stretches: int

    def half_width(self, confidence: float) -> float:
        """Half an interval, by Student's t with one degree of freedom less than stretches."""
        quantile = float(special.stdtrit(self.n_stretches - 1, (1.0 + confidence) / 2.0))
        return quantile * self.standard_error


def stretch_error(
    a: StretchedSide | None, b: StretchedSide, *, n_stretches: int, p: float
) -> StretchError | NoEvidence:
    """How far threshold b less threshold a moves with the stretches.

    Args:
        a: None: the threshold of b alone.
        b: the side in question.
        n_stretches: of the recording; at least one side plays it.
        p: share of messages at which thresholds are read.
    Returns: NoEvidence for fewer than LEAST_STRETCHES, or where a threshold hangs on one of them.
    Source: the delete-one jackknife (any text on resampling; from memory). Coverage is tested in
        tests/statistical/test_stretches_coverage.py.
    """
    if n_stretches < LEAST_STRETCHES:
        return NoEvidence(
            f"{n_stretches} independent stretches are too few to tell how the noise varies; "
            f"{LEAST_STRETCHES} are needed"
        )
    differences = []
    for stretch in range(n_stretches):
        ends = [_threshold(side, stretch, p) for side in (a, b) if side is not None]
        if any(end is None for end in ends):
            return NoEvidence("without one of the stretches there is no threshold")
        first, *rest = (end for end in ends if end is not None)
        differences.append(rest[0] - first if rest else first)
    values = np.array(differences)
    scatter = float(np.square(values - values.mean()).sum())
    return StretchError(math.sqrt((n_stretches - 1) / n_stretches * scatter), n_stretches)


def _threshold(side: StretchedSide, stretch: int, p: float) -> float | None:
    curve = fit_curve(side.without(stretch), side.form)
    if not isinstance(curve, Curve):
        return None
    value = curve.threshold(p)
    return value if isinstance(value, float) else None


def widened(interval: Interval, value: float, error: StretchError, *, own_half: float) -> Interval:
    """An interval that allows for the stretches too.

    Args:
        interval: of independent trials.
        value: that it is about.
        error: as from `stretch_error`; it holds the chance of the single trials of those sides
            that play the recording too.
        own_half: half width that those sides have in `interval`; only what goes beyond is added.
    Source: derived here: variances add, and what is counted twice is taken off.
    """
    more = max(0.0, error.half_width(interval.confidence) ** 2 - own_half**2)
    if more == 0.0:
        return interval
    low = value - math.hypot(value - interval.low, math.sqrt(more))
    high = value + math.hypot(interval.high - value, math.sqrt(more))
    return replace(
        interval, low=low, high=high, method=f"{interval.method}, stretches of the recording"
    )
