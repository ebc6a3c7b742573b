"""Where along an axis the next trials tell most about a threshold.

A posterior over curves is kept on a grid: midpoint and logarithm of the scale evenly likely over a
wide range, a few lapses, and for fading signals a few blurs. Of all axis values the next few trials
go to the one at which they are expected to leave the smallest variance of the threshold; the mean
runs over all their possible counts. Several lots are placed in one round without waiting for each
other: after each the posterior is moved as if the expected share had been seen. The last lot of a
round goes where the scale becomes known best. Without it nearly all trials gather at the threshold,
the scale stays vague, and a search that ends once its interval is short ends too often when the
scale happens to look small.

The posterior only chooses where to try. Thresholds and intervals come from the likelihood as ever:
where trials were placed, given what was seen before, does not enter it.

Symbols: C curves of the grid, V axis values, K possible counts. Source: expected-variance search in
the manner of Bayesian adaptive estimation (from memory), grid and lots derived here; the gain and
the coverage are measured in tests/statistical/test_placement_sweep.py.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from solidcopy.statistics.model import MAX_LAPSE
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Array, Form, Shape, shape_of

N_SCAN = 20
"""Trials of the first round, spread over the whole axis."""

LOTS = 4
"""Of one round, each at one axis value."""
LEAST_LOT = 5
"""Its size at first; also how many trials are looked ahead: the best place hardly depends on it."""
GROWTH = 0.1
"""A round is at least this part of what was tried before: fewer rounds, and more work at once."""

LAPSES = np.array([0.0, 0.01, 0.03, 0.06, 0.095])
FADED_BLURS = (0.0, 0.8, 1.5, math.inf)
N_MIDPOINTS, N_SCALES = 35, 11
ZOOMS, REACH = 2, 4.5
"""The grid is drawn anew around what the counts leave, so many standard deviations to each side."""

NEGLIGIBLE = 1e-5
OUTSIDE = 0.999
SCALE_KNOWN = 0.2


@dataclass(frozen=True, slots=True)
class Goal:
    """What is to be found.

    Args:
        p: share of messages whose threshold is asked for.
        form: of the curve.
    """

    p: float
    form: Form = "probit"

    @property
    def shapes(self) -> tuple[Shape, ...]:
        """Shapes that the curve may have."""
        if self.form != "faded":
            return (shape_of(self.form),)
        return tuple(shape_of("faded", blur) for blur in FADED_BLURS)


@dataclass(frozen=True, slots=True)
class _Window:
    """Ranges of midpoint and log scale that a grid covers."""

    midpoint: tuple[float, float]
    log_scale: tuple[float, float]

    @classmethod
    def widest(cls, values: Array) -> "_Window":
        """All that is thought possible: half a span outside, and scales of a quarter gap up."""
        span, gap = float(values[-1] - values[0]), float(np.diff(values).min())
        return cls(
            (values[0] - span / 2.0, values[-1] + span / 2.0),
            (math.log(gap / 4.0), math.log(span / 2.0)),
        )

    def around(self, midpoint: Array, log_scale: Array, weight: Array) -> "_Window":
        """The same, narrowed to what has weight."""
        ends = []
        for name, x, n in (("midpoint", midpoint, N_MIDPOINTS), ("log_scale", log_scale, N_SCALES)):
            first, last = getattr(self, name)
            mean = float(weight @ x)
            # All weight may sit on one point of a coarse grid: then the peak is a step away.
            reach = REACH * _spread(weight, x) + (last - first) / (n - 1)
            ends.append((max(first, mean - reach), min(last, mean + reach)))
        return _Window(*ends)


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """What the counts say about the threshold.

    Args:
        values: (V,) axis values, strictly rising.
        weight: (C,) of each curve, sums to 1.
        threshold, log_scale: (C,) of each curve.
        below, above: (C, V) its probability of a decode, and of none.
    """

    values: Array
    weight: Array
    threshold: Array
    log_scale: Array
    below: Array
    above: Array

    @property
    def spread(self) -> float:
        """Standard deviation of the threshold."""
        return _spread(self.weight, self.threshold)

    @property
    def is_scale_known(self) -> bool:
        """Whether the scale is known to a fifth, or certainly too small for the axis to show."""
        gap = float(np.diff(self.values).min())
        p_large = float(self.weight[self.log_scale > math.log(gap / 2.0)].sum())
        return _spread(self.weight, self.log_scale) <= SCALE_KNOWN or p_large < 1.0 - OUTSIDE

    @property
    def is_outside(self) -> bool:
        """Whether the threshold almost certainly lies off the axis."""
        p_below = float(self.weight[self.threshold < self.values[0]].sum())
        p_above = float(self.weight[self.threshold > self.values[-1]].sum())
        return max(p_below, p_above) > OUTSIDE

    def best_value(self, n_lot: int, aim: Array) -> int:
        """Place of the axis value where a lot of trials leaves the least variance on average.

        Args:
            n_lot: trials.
            aim: (C,) what is to become known: threshold or log scale of each curve.
        """
        off = aim - float(self.weight @ aim)
        both = np.stack([self.weight, self.weight * off])
        gain = np.zeros(self.values.size)
        for k, likelihood in enumerate(_all_counts(self.below, self.above, n_lot)):
            total, moved = both @ likelihood
            gain += special.comb(n_lot, k) * moved**2 / np.maximum(total, 1e-300)
        return int(gain.argmax())

    def after(self, place: int, n_lot: int) -> "Belief":
        """The belief if a lot at one axis value shows the share that is expected there."""
        below, above = self.below[:, place], self.above[:, place]
        share = float(self.weight @ below)
        log_weight = n_lot * (special.xlogy(share, below) + special.xlogy(1.0 - share, above))
        weight = self.weight * np.exp(log_weight - log_weight.max())
        return replace(self, weight=weight / weight.sum())


def _all_counts(below: Array, above: Array, n: int) -> Iterator[Array]:
    """below^k · above^(n − k) for k = 0 ... n; products, as powers of floats are slow."""
    falling = [np.ones_like(above)]
    for _ in range(n):
        falling.append(falling[-1] * above)
    rising = np.ones_like(below)
    for k in range(n + 1):
        yield rising * falling[n - k]
        rising = rising * below


def belief_of(points: Points, goal: Goal) -> Belief:
    """The posterior that counts leave.

    Args:
        points: counts at all axis values, untried ones included; at least two values.
        goal: threshold asked for.
    """
    window = _Window.widest(points.values)
    for _ in range(ZOOMS):
        midpoint, belief = _on_grid(points, goal, window)
        window = window.around(midpoint, belief.log_scale, belief.weight)
    _, belief = _on_grid(points, goal, window)
    keep = belief.weight > NEGLIGIBLE * belief.weight.max()
    weight = belief.weight[keep]
    return Belief(
        points.values,
        weight / weight.sum(),
        belief.threshold[keep],
        belief.log_scale[keep],
        belief.below[keep],
        belief.above[keep],
    )


def _on_grid(points: Points, goal: Goal, window: _Window) -> tuple[Array, Belief]:
    """Midpoints of a grid (C,), and the belief on it."""
    lapses = LAPSES[min(MAX_LAPSE, 1.0 - goal.p) > LAPSES]
    m, log_s, lapse = (
        axis.ravel()
        for axis in np.meshgrid(
            np.linspace(*window.midpoint, N_MIDPOINTS),
            np.linspace(*window.log_scale, N_SCALES),
            lapses,
            indexing="ij",
        )
    )
    scale = np.exp(log_s)
    parts = []
    for shape in goal.shapes:
        z = shape.clipped((points.values - m[:, None]) / scale[:, None])
        below, above, _ = shape.evaluate(z)
        top = 1.0 - lapse[:, None]
        threshold = m + scale * shape.quantile(goal.p / (1.0 - lapse))
        parts.append((threshold, top * below, lapse[:, None] + top * above))
    threshold, below, above = (np.concatenate(part) for part in zip(*parts, strict=True))
    missed = points.n_scored - points.n_decoded
    log_weight = special.xlogy(points.n_decoded, below) + special.xlogy(missed, above)
    total = log_weight.sum(axis=1)
    weight = np.exp(total - total.max())
    log_scale = np.tile(log_s, len(parts))
    belief = Belief(points.values, weight / weight.sum(), threshold, log_scale, below, above)
    return np.tile(m, len(parts)), belief


def _spread(weight: Array, x: Array) -> float:
    return math.sqrt(float(weight @ (x - float(weight @ x)) ** 2))


def first_round(n_values: int, *, n_together: int = 1) -> list[int]:
    """Trials of the first round at each axis value: evenly over the axis, its ends included.

    Args:
        n_values: >= 2.
        n_together: trials that share their luck; only whole groups are asked for.
    """
    n_places = min(n_values, max(5, N_SCAN // 2))
    places = np.unique(np.round(np.linspace(0, n_values - 1, n_places)).astype(int))
    n_each = _whole(max(1, N_SCAN // places.size), n_together)
    return [n_each if place in places else 0 for place in range(n_values)]


def next_round(belief: Belief, n_before: int, *, n_together: int = 1) -> list[int]:
    """Trials of the next round at each axis value.

    Args:
        belief: from all trials before.
        n_before: their number.
        n_together: as for `first_round`.
    """
    n_lot = _whole(max(LEAST_LOT, math.ceil(GROWTH * n_before / LOTS)), n_together)
    chosen = [0] * belief.values.size
    for lot in range(LOTS):
        aim = belief.threshold if lot < LOTS - 1 else belief.log_scale
        place = belief.best_value(LEAST_LOT, aim)
        chosen[place] += n_lot
        belief = belief.after(place, n_lot)
    return chosen


def _whole(n: int, n_together: int) -> int:
    return -(-n // n_together) * n_together
