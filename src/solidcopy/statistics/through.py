"""The best curves through given points (x, p): the raw material of profile likelihoods.

The curve is held to p at x, which leaves two parameters: its slope there, and z0, the place of
x on the shape F. The lapse follows: (1 − lapse) · F(z0) = p. In these terms the search stays
well behaved up to the ceiling, where the curve reaches p only just.
"""

from dataclasses import dataclass

import numpy as np

from solidcopy.statistics.model import CurveModel, FittingAxis
from solidcopy.statistics.scoring import Bounds, Counts, Rows, Until, maximise
from solidcopy.statistics.shapes import Array, Shape

STEEPER = 50.0
"""These curves may be so many times steeper than fitted ones: a true curve may be, and its
threshold then lies anywhere in the gap."""

SMALL_GAIN = 1e-6
"""In log-likelihood; an interval ends where about 2 are lost."""

GENTLEST, N_SLOPES = 0.05, 18
LAPSE_SHARES = ((0.0, 0.02, 0.1), (0.3, 0.6, 0.9, 0.999))
"""Where the two searches start: slopes in fitting units, lapses as shares of the largest."""


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """R curves held to p (R,) at distances du (R, P) from the axis values; theta: slope, z0."""

    shape: Shape
    p: Array
    du: Array

    def evaluate(self, theta: Array, rows: Rows) -> tuple[Array, Array, Array]:
        """Probabilities and derivatives as `scoring.Model` wants them."""
        slope, z0 = theta[:, :1], theta[:, 1:]
        du, p = self.du[rows], self.p[rows, None]
        below, above, density = self.shape.evaluate(self.shape.clipped(z0 + slope * du))
        below0, _, density0 = self.shape.evaluate(z0)
        top = p / below0
        lapse = np.maximum(below0 - p, 0.0) / below0
        by_slope = top * density * du
        by_z0 = top * (density - below * density0 / below0)
        return top * below, lapse + top * above, np.stack([by_slope, by_z0], axis=-1)

    def best_start(self, counts: Counts, slopes: Array, lapses: Array) -> Array:
        """The most likely of all slopes (n,) with all lapses (m, R), for each curve: (R, 2)."""
        z0 = self.shape.quantile(self.p / (1.0 - lapses))[:, None, :]
        slope = np.broadcast_to(slopes[:, None], (len(lapses), slopes.size, 1))
        z = z0[..., None] + slope[..., None] * self.du
        below, above, _ = self.shape.evaluate(self.shape.clipped(z))
        lapse = lapses[:, None, :, None]
        reached = counts.log_likelihood((1.0 - lapse) * below, lapse + (1.0 - lapse) * above)
        best = reached.reshape(-1, self.p.size).argmax(axis=0)
        i_lapse, i_slope = np.divmod(best, slopes.size)
        return np.column_stack([slopes[i_slope], z0[i_lapse, 0, np.arange(self.p.size)]])


def fit_through(
    values: Array,
    counts: Counts,
    at: tuple[Array, Array],
    model: CurveModel,
    *,
    enough: float = np.inf,
) -> Array:
    """Best log-likelihood of curves that pass through given points.

    Args:
        values: (P,) strictly rising, P >= 2.
        counts: R data sets.
        at: axis values (R,) and probabilities (R,) in (0, 1), one point for each data set.
        model: shape and largest lapse.
        enough: a search ends where it is reached; what is returned may then be less than the best.
    Returns: (R,) log-likelihood, as comparable with `Fits.log_likelihood`.
    Source: derived here; held against a plain grid search in the tests.
    """
    if len(model.members) > 1:
        each = [fit_through(values, counts, at, member, enough=enough) for member in model.members]
        return np.asarray(np.max(each, axis=0), np.float64)
    best = np.full_like(at[0], -np.inf)
    for shares in LAPSE_SHARES if model.max_lapse > 0.0 else ((0.0,),):
        left = np.flatnonzero(best < enough)
        if not left.size:
            break
        these = (at[0][left], at[1][left])
        reached = _search(values, counts.rows(left), these, model, (shares, enough))
        best[left] = np.maximum(best[left], reached)
    return best


def _search(
    values: Array,
    counts: Counts,
    at: tuple[Array, Array],
    model: CurveModel,
    how: tuple[tuple[float, ...], float],
) -> Array:
    """One search from the best of some starts; `how`: lapses as shares, and what is enough."""
    (x, p), (shares, enough) = at, how
    shape, axis = model.shape, FittingAxis.of(values, model.shape)
    held = _Held(shape, p, axis.u - ((x - axis.centre) / axis.half_span)[:, None])
    most = np.maximum(np.minimum(model.max_lapse, 1.0 - p - 1e-9), 0.0)
    steepest = np.full_like(p, STEEPER * axis.max_slope)
    bounds = Bounds(
        np.column_stack([np.zeros_like(p), shape.quantile(p)]),
        np.column_stack([steepest, shape.quantile(p / (1.0 - most))]),
    )
    slopes = np.geomspace(GENTLEST, steepest[0], N_SLOPES)
    start = held.best_start(counts, slopes, np.multiply.outer(np.array(shares), most))
    return maximise(counts, held.evaluate, start, bounds, until=Until(SMALL_GAIN, enough))[1]
