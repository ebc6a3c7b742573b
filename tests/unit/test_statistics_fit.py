"""The batch fits: same answer alone or in company, and none better to be found."""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize

from solidcopy.statistics.fit import fit_many
from solidcopy.statistics.model import CurveModel
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.shapes import shape_of
from solidcopy.statistics.through import fit_through

FORMS = ["probit", "logit", "outage"]
VALUES = np.arange(-25.0, -16.5, 0.5)


def draw(form, seed, *, n, scale, lapse=0.0, n_sets=60):
    generator = np.random.default_rng(seed)
    shape = shape_of(form)
    midpoint = -21.0 + generator.uniform(0, 1, (n_sets, 1))
    below, _, _ = shape.evaluate(shape.clipped((VALUES - midpoint) / scale))
    return generator.binomial(n, (1.0 - lapse) * below)


def log_likelihood(form, theta, n, k):
    """Plain, from scipy's own distribution functions."""
    midpoint, log_scale, lapse = theta
    z = (VALUES - midpoint) / np.exp(log_scale)
    cdf = {
        "probit": stats.norm.cdf,
        "logit": stats.logistic.cdf,
        "outage": lambda z: stats.gumbel_r.cdf(z, loc=np.log(np.log(2.0))),
    }[form]
    p = (1.0 - np.clip(lapse, 0.0, 0.1)) * cdf(z)
    return float(np.sum(stats.binom.logpmf(k, n, p) - stats.binom.logpmf(k, n, k / n)))


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("n", "scale", "lapse"), [(20, 0.4, 0.05), (50, 1.0, 0.0), (200, 0.4, 0.0)]
)
def test_a_simplex_search_finds_nothing_better(form, n, scale, lapse):
    k = draw(form, 3, n=n, scale=scale, lapse=lapse, n_sets=2)
    fits = fit_many(VALUES, np.full(VALUES.size, n), k, CurveModel(form))
    for row, counts in enumerate(k):
        own = (fits.midpoint[row], np.log(fits.scale[row]), fits.lapse[row])
        reached = log_likelihood(form, own, n, counts)
        for start_lapse in (0.001, 0.05):
            start = (own[0] + 0.1, own[1] - 0.3, start_lapse)
            with np.errstate(divide="ignore", invalid="ignore"):
                found = minimize(
                    lambda theta, counts=counts: -log_likelihood(form, theta, n, counts),
                    start,
                    method="Nelder-Mead",
                    options={"maxiter": 600},
                )
            assert reached >= -found.fun - 1e-6


@pytest.mark.parametrize("form", FORMS)
def test_a_batch_is_its_members(form):
    k = draw(form, 4, n=20, scale=0.6, lapse=0.02)
    n = np.full(VALUES.size, 20)
    together = fit_many(VALUES, n, k, CurveModel(form))
    for row in range(0, len(k), 7):
        alone = fit_many(VALUES, n, k[row : row + 1], CurveModel(form))
        for name in ("midpoint", "scale", "lapse", "log_likelihood", "is_rising"):
            assert getattr(alone, name)[0] == pytest.approx(getattr(together, name)[row], abs=1e-9)


def test_trials_may_differ_between_data_sets_and_points():
    k = draw("probit", 5, n=30, scale=0.8, n_sets=4)
    n = np.full(k.shape, 30)
    n[1] += 10
    n[2, :3] = 0
    k[2, :3] = 0
    together = fit_many(VALUES, n, k)
    for row in range(4):
        used = n[row] > 0
        alone = fit_many(VALUES[used], n[row, used], k[row : row + 1, used])
        assert alone.midpoint[0] == pytest.approx(together.midpoint[row], abs=1e-6)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("max_lapse", [0.0, 0.1])
def test_constrained_fits_hold_against_a_grid(form, max_lapse):
    """No curve of a fine grid through (x, p) is more likely than the one found.

    Only points that an interval could accept matter (deviance lost below 10).
    """
    k = draw(form, 6, n=20, scale=0.5, lapse=0.3 * max_lapse).astype(float)
    counts = Counts(np.full(k.shape, 20.0), k)
    generator = np.random.default_rng(7)
    p = generator.choice([0.1, 0.5, 0.9], len(k))
    model = CurveModel(form, max_lapse)
    fits = fit_many(VALUES, np.full(VALUES.size, 20), k.astype(int), model)
    fitted = np.array([fits.thresholds(level)[row] for row, level in enumerate(p)])
    x = np.clip(fitted, -25, -17) + generator.normal(0, 0.2, len(k))
    found = fit_through(VALUES, counts, (x, p), model)
    shape, best = model.shape, np.full(len(k), -np.inf)
    for lapse in np.append(0.0, np.geomspace(1e-3, 0.0999, 25))[: 26 if max_lapse else 1]:
        z0 = shape.quantile(p / (1.0 - lapse))[:, None]
        for scale in np.geomspace(0.005, 20.0, 90):
            below, above, _ = shape.evaluate(shape.clipped(z0 + (VALUES - x[:, None]) / scale))
            reached = counts.log_likelihood((1 - lapse) * below, lapse + (1 - lapse) * above)
            best = np.maximum(best, reached)
    matters = fits.log_likelihood - best < 5.0
    assert matters.sum() > 40
    assert np.all(found[matters] >= best[matters] - 0.02)
    assert np.all(found <= fits.log_likelihood + 1e-3)


def test_a_search_that_has_enough_says_the_same():
    k = draw("probit", 10, n=20, scale=0.6, lapse=0.03).astype(float)
    counts = Counts(np.full(k.shape, 20.0), k)
    at = np.full(len(k), -21.0), np.full(len(k), 0.5)
    best = fit_through(VALUES, counts, at, CurveModel())
    enough = float(np.median(best))
    found = fit_through(VALUES, counts, at, CurveModel(), enough=enough)
    assert np.array_equal(found >= enough, best >= enough)
    assert np.all(found <= best + 1e-5)


@pytest.mark.parametrize("form", FORMS)
def test_shapes_are_distribution_functions(form):
    shape = shape_of(form)
    p = np.array([1e-6, 0.1, 0.5, 0.9, 1 - 1e-6])
    z = shape.quantile(p)
    below, above, density = shape.evaluate(z)
    assert below == pytest.approx(p, rel=1e-9)
    assert above == pytest.approx(1 - p, rel=1e-9)
    assert z[2] == 0.0
    step = 1e-6
    slope = (shape.evaluate(z + step)[0] - shape.evaluate(z - step)[0]) / (2 * step)
    assert density == pytest.approx(slope, rel=1e-4, abs=1e-9)
    for limit in shape.z_limits:
        assert all(np.isfinite(np.log(part)) for part in shape.evaluate(np.array(limit))[:2])
