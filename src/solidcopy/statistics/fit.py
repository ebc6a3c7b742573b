"""Maximum-likelihood curves of many data sets at once, free or through a given point.

Model: p(x) = (1 − lapse) · F((x − midpoint) / scale); F from `shapes`, rising only; the chance
level is 0 since a message is not guessed; 0 <= lapse <= max_lapse.

The scale has a smallest value: there the curve does all its rising within one gap of the axis,
and counts cannot tell a steeper one from it. So a perfectly separated data set (all missed up
to one value, all decoded from the next) has a defined fit: the middle of its gap.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from solidcopy.statistics.scoring import Bounds, Counts, Rows, maximise
from solidcopy.statistics.shapes import Array, Form, Shape, shape_of

CountArray = NDArray[np.int64] | NDArray[np.float64]

MAX_LAPSE = 0.1
"""Default upper bound of the lapse."""

_FLAT = 1e-6
"""Smallest slope in fitting units: flat for any count."""

_STEEPER = 50.0
"""Curves through a given point may be this many times steeper than fitted ones: a true curve
may be, and its threshold then lies anywhere in the gap."""


@dataclass(frozen=True, slots=True)
class CurveModel:
    """What is fitted: the shape's name and the largest lapse allowed (0 fixes it at 0)."""

    form: Form = "probit"
    max_lapse: float = MAX_LAPSE

    def __post_init__(self) -> None:
        shape_of(self.form)
        if not 0.0 <= self.max_lapse < 1.0:
            raise ValueError(f"max_lapse must lie in [0, 1), not {self.max_lapse}")

    @property
    def shape(self) -> Shape:
        """The shape's functions."""
        return shape_of(self.form)


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """Fitted curves of R data sets, each array (R,).

    Args:
        midpoint: where F is one half (finite also where the curve does not rise).
        scale: > 0.
        lapse: in [0, max_lapse].
        log_likelihood: without binomial coefficients.
        is_rising: False where the best rising curve is a flat one.
    """

    model: CurveModel
    midpoint: Array
    scale: Array
    lapse: Array
    log_likelihood: Array
    is_rising: NDArray[np.bool_]

    def thresholds(self, p: float) -> Array:
        """(R,) axis values where the fitted probability is `p`.

        +inf where a curve never reaches it: it ends lower (lapse), or does not rise.
        """
        top = 1.0 - self.lapse
        reached = self.is_rising & (p < top)
        ratio = np.where(reached, p / top, 0.5)
        value = self.midpoint + self.scale * self.model.shape.quantile(ratio)
        return np.where(reached, value, np.inf)


@dataclass(frozen=True, slots=True, eq=False)
class _Axis:
    """The axis in fitting units: u = (x − centre) / half_span, slopes in (0, max_slope]."""

    u: Array
    centre: float
    half_span: float
    max_slope: float

    @classmethod
    def of(cls, values: Array, shape: Shape) -> "_Axis":
        centre = float(values[0] + values[-1]) / 2.0
        half_span = float(values[-1] - values[0]) / 2.0
        smallest_gap = float(np.diff(values).min())
        return cls(
            (values - centre) / half_span,
            centre,
            half_span,
            shape.z_span * half_span / smallest_gap,
        )


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
    counts = Counts(np.broadcast_to(np.asarray(n, np.float64), k.shape), np.asarray(k, np.float64))
    axis = _Axis.of(values, model.shape)
    theta, reached = _fit_from(counts, model, axis, lapse_start=np.zeros(len(k)))
    if model.max_lapse > 0.0:
        theta, reached = _restart(counts, model, axis, (theta, reached))
    midpoint = np.where(theta[:, 1] > _FLAT, -theta[:, 0] / theta[:, 1], 0.0)
    fits = Fits(
        model,
        axis.centre + axis.half_span * midpoint,
        axis.half_span / theta[:, 1],
        theta[:, 2],
        reached,
        theta[:, 1] > 2.0 * _FLAT,
    )
    return _centre_steps(fits, values, counts)


def _fit_from(
    counts: Counts, model: CurveModel, axis: _Axis, *, lapse_start: Array
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
    lower = np.tile([-np.inf, _FLAT, 0.0], (len(start), 1))
    upper = np.tile([np.inf, axis.max_slope, model.max_lapse], (len(start), 1))
    lower[:, 2] = upper[:, 2] = lapse_start
    start, reached = maximise(counts, evaluate, start, Bounds(lower, upper))
    if model.max_lapse == 0.0:
        return start, reached
    lower[:, 2], upper[:, 2] = 0.0, model.max_lapse
    return maximise(counts, evaluate, start, Bounds(lower, upper))


def _line_start(counts: Counts, shape: Shape, axis: _Axis, lapse: Array) -> Array:
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
    counts: Counts, model: CurveModel, axis: _Axis, first: tuple[Array, Array]
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


def fit_through(values: Array, counts: Counts, at: tuple[Array, Array], model: CurveModel) -> Array:
    """Best log-likelihood of curves that pass through given points.

    Args:
        values: (P,) strictly rising, P >= 2.
        counts: R data sets.
        at: axis values (R,) and probabilities (R,) in (0, 1), one point for each data set.
        model: shape and largest lapse.
    Returns: (R,) log-likelihood, as comparable with `Fits.log_likelihood`.
    Source: profile likelihood, textbook; derived here.
    """
    x, p = at
    shape, axis = model.shape, _Axis.of(values, model.shape)
    du = axis.u - ((x - axis.centre) / axis.half_span)[:, None]

    def evaluate(theta: Array, rows: Rows) -> tuple[Array, Array, Array]:
        slope, z0 = theta[:, :1], theta[:, 1:]
        below, above, density = shape.evaluate(shape.clipped(z0 + slope * du[rows]))
        below0, above0, density0 = shape.evaluate(z0)
        top = p[rows, None] / below0
        lapse = np.maximum(below0 - p[rows, None], 0.0) / below0
        jac = np.stack(
            [top * density * du[rows], top * (density - below * density0 / below0)], axis=-1
        )
        return top * below, lapse + top * above, jac

    most = np.minimum(model.max_lapse, 1.0 - p - 1e-9)
    z_low, z_high = shape.quantile(p), shape.quantile(p / (1.0 - most))
    steepest = _STEEPER * axis.max_slope
    lower = np.column_stack([np.zeros_like(p), z_low])
    upper = np.column_stack([np.full_like(p, steepest), z_high])
    slopes = np.geomspace(_GENTLEST, steepest, _N_SLOPES)
    every, best = np.arange(p.size), np.full_like(p, -np.inf)
    for lapse_shares in _LAPSE_SHARES if model.max_lapse > 0.0 else ((0.0,),):
        start, start_reached = lower.copy(), np.full_like(p, -np.inf)
        for lapse_share, slope in product(lapse_shares, slopes):
            z0 = shape.quantile(p / (1.0 - lapse_share * most))
            theta = np.column_stack([np.full_like(p, slope), z0])
            fitted, missed, _ = evaluate(theta, every)
            reached = counts.log_likelihood(fitted, missed)
            better = reached > start_reached
            start[better], start_reached[better] = theta[better], reached[better]
        best = np.maximum(best, maximise(counts, evaluate, start, Bounds(lower, upper))[1])
    return best


_GENTLEST, _N_SLOPES = 0.03, 24
_LAPSE_SHARES = ((0.0, 0.02, 0.1), (0.3, 0.6, 0.9, 0.999))
"""Where the two searches start: slopes in fitting units, lapses as shares of the largest."""


def threshold_weights(
    values: Array,
    n: CountArray,
    curve: tuple[float, float, float],
    *,
    p: float,
    model: CurveModel,
) -> Array:
    """How far one more decode at each axis value moves the fitted threshold, to first order.

    Args:
        values: (P,) axis values.
        n: (P,) scored trials.
        curve: midpoint, scale and lapse of the fit.
        p: probability of the threshold, below 1 − lapse.
        model: shape and largest lapse; a lapse on one of its limits counts as fixed.
    Returns: (P,) axis units per decode, negative; all 0 for a curve so steep that the counts
        say nothing of its scale.
    Source: derived here: gradient of the threshold times the inverse of the information.
    """
    midpoint, scale, lapse = curve
    shape = model.shape
    z = shape.clipped((values - midpoint) / scale)
    below, above, density = shape.evaluate(z)
    top = 1.0 - lapse
    fitted, missed = top * below, lapse + top * above
    slope = -top * density / scale
    jac = np.column_stack([slope, slope * z, -below])
    ratio = np.array(p / top)
    z_p = shape.quantile(ratio)
    gradient = np.array([1.0, float(z_p), scale * float(ratio / top / shape.evaluate(z_p)[2])])
    is_free = np.array([True, True, 1e-9 < lapse < model.max_lapse - 1e-9])
    jac, gradient = jac[:, is_free], gradient[is_free]
    root = jac * np.sqrt(n / (fitted * missed))[:, None]
    information = root.T @ root
    if np.linalg.cond(information) > 1e10:
        return np.zeros(values.size)
    moves = np.linalg.solve(information, gradient)
    return np.asarray(jac @ moves / (fitted * missed), np.float64)
