"""Does the curve suit the counts? Deviance, judged by chi-square or by simulation."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from solidcopy.statistics.curve import Curve
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.fit import fit_many
from solidcopy.statistics.scoring import Counts


@dataclass(frozen=True, slots=True)
class Goodness:
    """How surprising the deviance is if the fitted curve is true.

    Args:
        deviance: of the fit.
        n_degrees: points less parameters.
        p_value: probability of a deviance at least as large.
        method: "chi-square" or "simulated".
    """

    deviance: float
    n_degrees: int
    p_value: float
    method: str


def chi_square_goodness(curve: Curve) -> Goodness | NoEvidence:
    """Quick judgement. Rough where few decodes or few misses are expected at a point.

    Source: textbook; large counts only, so prefer `simulated_goodness` for a report.
    """
    if curve.n_degrees == 0:
        return NoEvidence("as many parameters as points: the fit cannot be judged, add points")
    p_value = float(special.chdtrc(curve.n_degrees, curve.deviance))
    return Goodness(curve.deviance, curve.n_degrees, p_value, "chi-square")


def simulated_goodness(
    curve: Curve, generator: np.random.Generator, *, n_simulated: int = 999
) -> Goodness | NoEvidence:
    """Judgement that holds for small counts: campaigns drawn from the curve, each fitted again.

    Args:
        curve: the fit.
        generator: source of the simulated counts.
        n_simulated: >= 19; the p-value is never below 1 / (n_simulated + 1).
    Source: parametric bootstrap, textbook.
    """
    if n_simulated < 19:
        raise ValueError(f"n_simulated must be at least 19, not {n_simulated}")
    if curve.n_degrees == 0:
        return NoEvidence("as many parameters as points: the fit cannot be judged, add points")
    points = curve.points
    fitted = curve.probability(points.values)
    drawn = generator.binomial(points.n_scored, fitted, size=(n_simulated, points.values.size))
    fits = fit_many(points.values, points.n_scored, drawn, curve.model.family)
    n = np.broadcast_to(points.n_scored.astype(np.float64), drawn.shape)
    deviances = 2.0 * (Counts(n, drawn.astype(np.float64)).saturated() - fits.log_likelihood)
    n_as_large = int(np.sum(deviances >= curve.deviance - 1e-9))
    p_value = (1 + n_as_large) / (n_simulated + 1)
    return Goodness(curve.deviance, curve.n_degrees, p_value, "simulated")
