"""A fitted curve: the probability of a decode along an axis."""

from dataclasses import dataclass

import numpy as np

from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.fit import Fits, fit_many
from solidcopy.statistics.model import MAX_LAPSE, CurveModel
from solidcopy.statistics.points import Points
from solidcopy.statistics.profile import Region, band_range
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.shapes import Array, Form


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """p(x) = (1 − lapse) · F((x − midpoint) / scale), rising, fitted by maximum likelihood.

    Args:
        model: shape F and the largest lapse allowed.
        midpoint: axis value where F is one half.
        scale: > 0, in axis units.
        lapse: share of messages lost however large the axis value is.
        points: the counts it was fitted to (scored points only).
        log_likelihood: without binomial coefficients.
    """

    model: CurveModel
    midpoint: float
    scale: float
    lapse: float
    points: Points
    log_likelihood: float

    @property
    def form(self) -> Form:
        """Name of the shape."""
        return self.model.form

    @property
    def width(self) -> float:
        """Axis distance from F = 10 % to F = 90 %."""
        return self.scale * (self.model.shape.z(0.9) - self.model.shape.z(0.1))

    @property
    def deviance(self) -> float:
        """Twice the log-likelihood lost against a curve through every point; 0 is perfect."""
        return max(0.0, 2.0 * (_saturated(self.points) - self.log_likelihood))

    @property
    def n_degrees(self) -> int:
        """Points less fitted parameters (at least 0)."""
        n_parameters = 2 + (self.model.max_lapse > 0.0) + (self.model.blur is not None)
        return max(0, self.points.values.size - n_parameters)

    def probability(self, x: Array) -> Array:
        """Fitted probability at axis values of any shape."""
        shape = self.model.shape
        z = shape.clipped((np.asarray(x, np.float64) - self.midpoint) / self.scale)
        return (1.0 - self.lapse) * shape.evaluate(z)[0]

    def threshold(self, p: float) -> float | NoThreshold:
        """Axis value where the fitted probability, lapse included, equals `p`."""
        if not 0.0 < p < 1.0:
            raise ValueError(f"p must lie between 0 and 1, not {p}")
        if p >= 1.0 - self.lapse:
            return NoThreshold(
                f"the fitted curve levels off at {1.0 - self.lapse:.3g} and never reaches {p:g}"
            )
        return self.midpoint + self.scale * self.model.shape.z(p / (1.0 - self.lapse))

    def band(self, xs: Array, confidence: float = 0.95) -> tuple[Array, Array]:
        """Pointwise confidence band for drawing.

        Args:
            xs: (n_xs,) axis values.
            confidence: two-sided, at each axis value for itself.
        Returns: low and high probability, (n_xs,) each. Cut at p, the band ends where the
            interval of the threshold at p ends.
        """
        xs = np.asarray(xs, np.float64)
        region = Region.of(self.points, self.model.family, confidence)
        return band_range(region, xs, fitted=self.probability(xs))


def fit_curve(
    points: Points, form: Form = "probit", *, max_lapse: float = MAX_LAPSE
) -> Curve | NoThreshold:
    """The most likely rising curve through the counts.

    Args:
        points: at least two axis values with scored trials.
        form: shape of the curve.
        max_lapse: upper bound of the lapse; 0 fixes it at 0. There is no other regularisation.
    Returns: the curve, or the reason why the counts have none.
    Source: maximum likelihood, derived in `fit`.
    """
    scored = points.scored()
    reason = _why_no_curve(scored)
    if reason is not None:
        return NoThreshold(reason)
    model = CurveModel(form, max_lapse)
    return curve_of(scored, fit_many(scored.values, scored.n_scored, scored.n_decoded[None], model))


def curve_of(scored: Points, fits: Fits) -> Curve | NoThreshold:
    """The curve that was fitted to scored points (one data set), or why there is none."""
    reason = _why_no_curve(scored)
    if reason is not None:
        return NoThreshold(reason)
    if not fits.is_rising[0]:
        return NoThreshold(
            "the share of decodes does not rise along the axis: check the direction of the axis, "
            "or test a wider range"
        )
    return Curve(
        fits.member(0),
        float(fits.midpoint[0]),
        float(fits.scale[0]),
        float(fits.lapse[0]),
        scored,
        float(fits.log_likelihood[0]),
    )


def _why_no_curve(scored: Points) -> str | None:
    values = scored.values
    if values.size == 0:
        return "no trial was scored: run trials first"
    if values.size == 1:
        return f"only one axis value was tested ({scored.label(values[0])}): add others"
    n = int(scored.n_scored.sum())
    if scored.n_decoded.sum() == n:
        return (
            f"every message was decoded ({n} of {n}), even at {scored.label(values[0])}: "
            "add lower values"
        )
    if scored.n_decoded.sum() == 0:
        return (
            f"no message was decoded (0 of {n}), even at {scored.label(values[-1])}: "
            "add higher values"
        )
    return None


def _saturated(points: Points) -> float:
    counts = Counts(points.n_scored[None].astype(float), points.n_decoded[None].astype(float))
    return float(counts.saturated()[0])
