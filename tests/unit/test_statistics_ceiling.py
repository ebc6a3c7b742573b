"""The ceiling of rising curves through a point: never too low, and reached."""

import numpy as np
import pytest
from scipy import optimize

from solidcopy.statistics.ceiling import Ceiling
from solidcopy.statistics.model import CurveModel
from solidcopy.statistics.points import Points
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.shapes import shape_of
from solidcopy.statistics.through import fit_through

VALUES = np.arange(-25.0, -16.0)


def drawn(seed):
    generator = np.random.default_rng(seed)
    n = generator.integers(5, 30, VALUES.size)
    p = 0.97 * shape_of("probit").evaluate((VALUES + 21.3) / 0.9)[0]
    return Points(VALUES, generator.binomial(n, p), n), generator


@pytest.mark.derived
@pytest.mark.parametrize("form", ["probit", "outage", "faded"])
def test_no_fitted_curve_exceeds_it(form):
    """Near the fit and far from it, at tested values and between them."""
    for seed in range(3):
        points, generator = drawn(seed)
        x = np.append(generator.uniform(-26.0, -16.0, 60), VALUES)
        p = generator.uniform(0.02, 0.98, x.size)
        rows = (x.size, VALUES.size)
        counts = Counts(
            np.broadcast_to(points.n_scored.astype(float), rows),
            np.broadcast_to(points.n_decoded.astype(float), rows),
        )
        reached = fit_through(VALUES, counts, (x, p), CurveModel(form))
        assert np.all(reached <= Ceiling.of(points).through(x, p) + 1e-9)


@pytest.mark.derived
def test_a_plain_search_reaches_it():
    """scipy's constrained search over rising shares, held to p at x, ends at the ceiling."""
    points, _ = drawn(5)
    ceiling = Ceiling.of(points)
    n, k = points.n_scored, points.n_decoded
    for x, p in ((-21.4, 0.6), (-22.0, 0.5), (-20.2, 0.3), (-26.0, 0.1)):
        low = np.where(points.values >= x, p, 0.0)
        high = np.where(points.values <= x, p, 1.0)

        def loss(share):
            share = np.clip(share, 1e-9, 1.0 - 1e-9)
            return -np.sum(k * np.log(share) + (n - k) * np.log1p(-share))

        rising = optimize.LinearConstraint(np.diff(np.eye(VALUES.size), axis=0), 0.0)
        start = np.clip(np.linspace(0.05, 0.95, VALUES.size), low, high)
        found = optimize.minimize(
            loss,
            start,
            method="SLSQP",
            bounds=list(zip(low, high, strict=True)),
            constraints=[rising],
            options={"maxiter": 500, "ftol": 1e-12},
        )
        assert -found.fun == pytest.approx(
            ceiling.through(np.array([x]), np.array([p]))[0], abs=1e-4
        )
