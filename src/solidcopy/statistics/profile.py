"""Profile likelihood: which thresholds, and which probabilities, the counts do not contradict.

A point (x, p) is accepted if the best curve through it loses at most half the chi-square
quantile (one degree of freedom) of log-likelihood against the best curve of all. The accepted
x at a fixed p are the interval of the threshold; the accepted p at a fixed x are the band of
the curve. Being two cuts of one region, interval and band always agree, and both hold the fit.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from solidcopy.statistics.ceiling import Ceiling
from solidcopy.statistics.fit import Fits, fit_many, likeliest
from solidcopy.statistics.model import CurveModel
from solidcopy.statistics.points import Points
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.shapes import Array
from solidcopy.statistics.through import fit_through

N_PER_STEP = 6
"""Trial axis values in each gap of the axis, before the ends are refined."""

P_EDGE = 1e-4
"""Bands are drawn between this probability and 1 minus it."""


def _loss(points: Points, confidence: float) -> float:
    """Log-likelihood that an accepted point may lose.

    Trials in groups say less than the likelihood believes, by the inflation of their variance;
    as that is estimated, Student's quantile replaces the normal one.
    """
    if points.clustering is None:
        z = special.ndtri(0.5 + confidence / 2.0)
        return 0.5 * float(z * z)
    t = special.stdtrit(points.clustering.n_degrees, 0.5 + confidence / 2.0)
    return 0.5 * points.clustering.inflation * float(t * t)


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """The accepted points (x, p) of one set of counts.

    Args:
        points: at least two axis values, all scored.
        fits: the best curve of all (one data set).
        members: models of one shape that can reach `least` at all, the likeliest first.
        least: log-likelihood that a curve through an accepted point reaches.
        ceiling: what no curve exceeds.
    """

    points: Points
    fits: Fits
    members: tuple[CurveModel, ...]
    least: float
    ceiling: Ceiling

    @classmethod
    def of(cls, points: Points, model: CurveModel, confidence: float) -> "Region":
        """The region of that confidence."""
        k = points.n_decoded[None]
        each = [fit_many(points.values, points.n_scored, k, member) for member in model.members]
        reached = [float(fits.log_likelihood[0]) for fits in each]
        least = max(reached) - _loss(points, confidence)
        order = sorted(range(len(each)), key=lambda place: -reached[place])
        members = tuple(model.members[place] for place in order if reached[place] >= least)
        fits = each[0] if len(each) == 1 else likeliest(model, each)
        return cls(points, fits, members, least, Ceiling.of(points))

    def accepts(self, x: Array, p: Array) -> NDArray[np.bool_]:
        """Whether each (x, p) is accepted; equal shapes."""
        accepted = np.zeros(x.size, np.bool_)
        at = (x.ravel(), p.ravel())
        left = np.flatnonzero(self.ceiling.through(*at) >= self.least)
        for member in self.members:
            if not left.size:
                break
            counts, these = self._counts(left.size), (at[0][left], at[1][left])
            reached = fit_through(self.points.values, counts, these, member, enough=self.least)
            accepted[left] = reached >= self.least
            left = left[~accepted[left]]
        return accepted.reshape(x.shape)

    def _counts(self, n_rows: int) -> Counts:
        size = (n_rows, self.points.values.size)
        return Counts(
            np.broadcast_to(self.points.n_scored.astype(float), size),
            np.broadcast_to(self.points.n_decoded.astype(float), size),
        )


def threshold_range(region: Region, p: float) -> tuple[float, float]:
    """Ends of the accepted axis values at probability `p`; infinite where not bounded.

    Args:
        region: what the counts do not contradict.
        p: as for `read_threshold`.
    Returns: low and high; -inf or +inf where an axis value one step outside the tested ones
        is still accepted.
    """
    values = region.points.values
    fitted = float(region.fits.thresholds(p)[0])
    before, after = 2.0 * values[0] - values[1], 2.0 * values[-1] - values[-2]
    knots = np.concatenate([[before], values, [after]])
    place = np.arange((knots.size - 1) * N_PER_STEP + 1) / N_PER_STEP
    trial = np.interp(place, np.arange(knots.size), knots)
    if before < fitted < after:
        trial = np.unique(np.append(trial, fitted))

    def accepts(x: Array) -> NDArray[np.bool_]:
        return region.accepts(x, np.full(x.shape, p))

    accepted = accepts(trial)
    if not accepted.any():
        return (float(after), np.inf) if fitted >= after else (-np.inf, float(before))
    first, last = np.flatnonzero(accepted)[[0, -1]]
    inside = trial[[first, last]]
    outside = trial[[max(first - 1, 0), min(last + 1, trial.size - 1)]]
    low, high = _edges(inside, outside, accepts, FEW_EDGES)
    return (
        -np.inf if accepted[0] else float(low),
        np.inf if accepted[-1] else float(high),
    )


def band_range(region: Region, xs: Array, *, fitted: Array) -> tuple[Array, Array]:
    """Pointwise band: lowest and highest accepted probability at each axis value.

    Args:
        region: what the counts do not contradict.
        xs: (n_xs,) axis values.
        fitted: (n_xs,) fitted probability there; always inside the band.
    Returns: low and high, (n_xs,).
    """
    grid = special.expit(np.linspace(special.logit(P_EDGE), special.logit(1.0 - P_EDGE), 25))
    start = np.clip(fitted, P_EDGE, 1.0 - P_EDGE)
    trial = np.sort(np.column_stack([np.broadcast_to(grid, (xs.size, grid.size)), start]), axis=1)
    accepted = region.accepts(np.broadcast_to(xs[:, None], trial.shape), trial)
    accepted |= trial == start[:, None]
    rows = np.arange(xs.size)
    first = accepted.argmax(axis=1)
    last = trial.shape[1] - 1 - accepted[:, ::-1].argmax(axis=1)
    inside = np.concatenate([trial[rows, first], trial[rows, last]])
    beyond_low = trial[rows, np.maximum(first - 1, 0)]
    beyond_high = trial[rows, np.minimum(last + 1, trial.shape[1] - 1)]
    twice = np.tile(xs, 2)

    def accepts(p: Array) -> NDArray[np.bool_]:
        return region.accepts(np.broadcast_to(twice[:, None], p.shape), p)

    edges = _edges(inside, np.concatenate([beyond_low, beyond_high]), accepts, MANY_EDGES)
    low = np.where(accepted[:, 0], 0.0, edges[: xs.size])
    high = np.where(accepted[:, -1], 1.0, edges[xs.size :])
    return np.minimum(low, fitted), np.maximum(high, fitted)


@dataclass(frozen=True, slots=True)
class _Steps:
    """How an edge is found: each round cuts its stretch into so many parts."""

    n_parts: int
    n_rounds: int


FEW_EDGES = _Steps(8, 3)
"""To 1/512; for two edges, where the number of rounds counts."""

MANY_EDGES = _Steps(2, 7)
"""To 1/128, finer than a figure shows; where the number of trials counts."""


def _edges(
    inside: Array,
    outside: Array,
    accepts: Callable[[Array], NDArray[np.bool_]],
    steps: _Steps,
) -> Array:
    """Where acceptance ends between accepted and rejected numbers, each (n_edges,).

    Returns the outermost accepted number.
    """
    fractions = np.linspace(0.0, 1.0, steps.n_parts + 1)
    for _ in range(steps.n_rounds):
        trial = inside[:, None] + (outside - inside)[:, None] * fractions
        inner = accepts(trial[:, 1:-1])
        n_inside = np.where(inner.all(axis=1), steps.n_parts - 1, inner.argmin(axis=1))
        rows = np.arange(inside.size)
        inside, outside = trial[rows, n_inside], trial[rows, n_inside + 1]
    return inside
