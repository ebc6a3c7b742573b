"""Maximum-likelihood curves of many data sets at once.

Model: p(x) = (1 − lapse) · F((x − midpoint) / scale); F from `shapes`, rising only; the chance
level is 0 since a message is not guessed; 0 <= lapse <= max_lapse.

The scale has a smallest value: there the curve does all its rising within one gap of the axis,
and counts cannot tell a steeper one from it. So a perfectly separated data set (all missed up
to one value, all decoded from the next) has a defined fit: the middle of its gap.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solidcopy.statistics.model import CountArray, CurveModel, FittingAxis
from solidcopy.statistics.scoring import Bounds, Counts, Rows, Until, maximise
from solidcopy.statistics.shapes import Array, Shape

FLAT = 1e-6
"""Smallest slope in fitting units: flat for any count."""


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """Fitted curves of R data sets, each array (R,).

    Args:
        midpoint: where F is one half (finite also where the curve does not rise).
        scale: > 0.
        lapse: in [0, max_lapse].
        log_likelihood: without binomial coefficients.
        is_rising: False where the best rising curve is a flat one.
        blur: of the likeliest member, where the model has several.
    """

    model: CurveModel
    midpoint: Array
    scale: Array
    lapse: Array
    log_likelihood: Array
    is_rising: NDArray[np.bool_]
    blur: Array | None = None

    def member(self, row: int) -> CurveModel:
        """The model of one row, of one shape."""
        return self.model if self.blur is None else replace(self.model, blur=float(self.blur[row]))

    def thresholds(self, p: float) -> Array:
        """(R,) axis values where the fitted probability is `p`.

        +inf where a curve never reaches it: it ends lower (lapse), or does not rise.
        """
        top = 1.0 - self.lapse
        reached = self.is_rising & (p < top)
        ratio = np.where(reached, p / top, 0.5)
        value = self.midpoint + self.scale * self._quantiles(ratio)
        return np.where(reached, value, np.inf)

    def _quantiles(self, ratio: Array) -> Array:
        if self.blur is None:
            return self.model.shape.quantile(ratio)
        z = np.empty_like(ratio)
        for member in self.model.members:
            rows = self.blur == member.blur
            z[rows] = member.shape.quantile(ratio[rows])
        return z


def fit_many(values: Array, n: CountArray, k: CountArray, model: CurveModel | None = None) -> Fits:
    """Fit R data sets on the same axis values.

    Args:
        values: (P,) strictly rising, P >= 2.
        n: (P,) or (R, P) scored trials; 0 is allowed.
        k: (R, P) decoded.
        model: shape and largest lapse.
    Returns: R fits.
    Source: derived here (`scoring` holds the method).
    """
    model = CurveModel() if model is None else model
    if len(model.members) > 1:
        return likeliest(model, [fit_many(values, n, k, member) for member in model.members])
    counts = Counts(np.broadcast_to(np.asarray(n, np.float64), k.shape), np.asarray(k, np.float64))
    axis = FittingAxis.of(values, model.shape)
    theta, reached = _fit_from(counts, model, axis, lapse_start=np.zeros(len(k)))
    if model.max_lapse > 0.0:
        theta, reached = _restart(counts, model, axis, (theta, reached))
    midpoint = np.where(theta[:, 1] > FLAT, -theta[:, 0] / theta[:, 1], 0.0)
    fits = Fits(
        model,
        axis.centre + axis.half_span * midpoint,
        axis.half_span / theta[:, 1],
        theta[:, 2],
        reached,
        theta[:, 1] > 2.0 * FLAT,
    )
    return _centre_steps(fits, values, counts)


def likeliest(model: CurveModel, fits: list[Fits]) -> Fits:
    """For each data set the member of a model that makes it most likely."""
    best = np.array([fit.log_likelihood for fit in fits]).argmax(axis=0)
    rows = np.arange(best.size)

    def chosen(field: str) -> NDArray[Any]:
        of_all: NDArray[Any] = np.array([getattr(fit, field) for fit in fits])
        return np.asarray(of_all[best, rows])

    return Fits(
        model,
        chosen("midpoint"),
        chosen("scale"),
        chosen("lapse"),
        chosen("log_likelihood"),
        chosen("is_rising"),
        np.array([member.blur for member in model.members], np.float64)[best],
    )


def _fit_from(
    counts: Counts, model: CurveModel, axis: FittingAxis, *, lapse_start: Array
) -> tuple[Array, Array]:
    """Best curve with the lapse held at its start, then with the lapse free."""
    shape = model.shape

    def evaluate(theta: Array, _rows: Rows) -> tuple[Array, Array, Array]:
        z = theta[:, :1] + theta[:, 1:2] * axis.u
        top = 1.0 - theta[:, 2:]
        below, above, density = shape.evaluate(shape.clipped(z))
        slope = top * density
        jac = np.stack([slope, slope * axis.u, -below], axis=-1)
        return top * below, theta[:, 2:] + top * above, jac

    start = np.column_stack([_line_start(counts, shape, axis, lapse_start), lapse_start])
    lower = np.tile([-np.inf, FLAT, 0.0], (len(start), 1))
    upper = np.tile([np.inf, axis.max_slope, model.max_lapse], (len(start), 1))
    lower[:, 2] = upper[:, 2] = lapse_start
    if model.max_lapse > 0.0:
        start, _ = maximise(counts, evaluate, start, Bounds(lower, upper), until=Until(1e-4))
        lower[:, 2], upper[:, 2] = 0.0, model.max_lapse
    return maximise(counts, evaluate, start, Bounds(lower, upper))


def _line_start(counts: Counts, shape: Shape, axis: FittingAxis, lapse: Array) -> Array:
    """Weighted straight line through the transformed shares: (R, 2) intercept and slope."""
    share = (counts.k + 0.5) / (counts.n + 1.0)
    share = np.minimum(share / (1.0 - lapse[:, None]), 1.0 - 0.5 / (counts.n + 1.0))
    weight = counts.n * share * (1.0 - share) + 1e-12
    weight /= weight.sum(axis=1, keepdims=True)
    z = shape.quantile(share)
    mean_u, mean_z = (weight * axis.u).sum(axis=1), (weight * z).sum(axis=1)
    off = axis.u - mean_u[:, None]
    slope = (weight * off * z).sum(axis=1) / ((weight * off * off).sum(axis=1) + 1e-12)
    slope = np.clip(slope, 0.1, axis.max_slope / 2.0)
    return np.column_stack([mean_z - slope * mean_u, slope])


def _restart(
    counts: Counts, model: CurveModel, axis: FittingAxis, first: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Fit again from curves that explain the misses near the top as lapses; keep the best.

    With a free lapse the likelihood can have several maxima: a wide curve, or a steep one with
    lapses.
    """
    theta, reached = first
    share = counts.k / np.maximum(counts.n, 1.0)
    for level in (0.5, 0.9):
        is_top = np.cumsum(share >= level, axis=1) > 1
        missed = ((counts.n - counts.k) * is_top).sum(axis=1)
        lapse = missed / np.maximum((counts.n * is_top).sum(axis=1), 1.0)
        again = np.flatnonzero(lapse > 0.0)
        if not again.size:
            continue
        start = np.minimum(lapse[again], 0.9 * model.max_lapse)
        other, other_reached = _fit_from(counts.rows(again), model, axis, lapse_start=start)
        better = other_reached > reached[again] + 1e-9
        theta[again[better]] = other[better]
        reached[again[better]] = other_reached[better]
    return theta, reached


def _centre_steps(fits: Fits, values: Array, counts: Counts) -> Fits:
    """Put curves that do all their rising inside one gap in the middle of that gap.

    Inside the gap every midpoint is equally likely; the middle is the answer by definition.
    """
    shape = fits.model.shape
    z = shape.clipped((values - fits.midpoint[:, None]) / fits.scale[:, None])
    below, above, _ = shape.evaluate(z)
    used = counts.n > 0
    is_low, is_high = (below < 1e-5) & used, (above < 1e-5) & used
    step = fits.is_rising & (is_low | is_high | ~used).all(axis=1)
    step &= is_low.any(axis=1) & is_high.any(axis=1)
    left = np.where(is_low, values, -np.inf).max(axis=1)[step]
    right = np.where(is_high, values, np.inf).min(axis=1)[step]
    midpoint, scale = fits.midpoint.copy(), fits.scale.copy()
    midpoint[step] = (left + right) / 2.0
    scale[step] = float(np.diff(values).min()) / shape.z_span
    return Fits(fits.model, midpoint, scale, fits.lapse, fits.log_likelihood, fits.is_rising)
