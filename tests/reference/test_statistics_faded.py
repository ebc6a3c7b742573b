"""The curve of a fading signal against integrals by scipy, FACTS B4 and its own limits."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.faded import BLURS, FadedTable
from solidcopy.statistics.fit import fit_many
from solidcopy.statistics.model import CurveModel
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import shape_of
from solidcopy.statistics.threshold import Threshold, read_threshold

SCALE_DB = 10.0 / math.log(10.0)


@pytest.mark.authority
@pytest.mark.parametrize(("p", "shift_db"), [(0.1, -3.7), (0.5, 1.6), (0.9, 9.8)])
def test_mean_snr_needed_above_the_threshold(p, shift_db):
    """FACTS B4 (derived there): Rayleigh fading, one draw a message, s = 0.65 dB."""
    table = FadedTable.of(0.65 / SCALE_DB)
    assert SCALE_DB * float(table.quantile(np.array(p))) == pytest.approx(shift_db, abs=0.03)


@pytest.mark.authority
@pytest.mark.parametrize("blur", [0.15, *BLURS[1:-1]])
@pytest.mark.parametrize("v", [-4.0, -1.0, 0.02, 1.0, 5.0])
def test_integral_over_exponential_power(blur, v):
    """E[Phi((v + ln x) / blur)] by scipy's quadrature, x exponential; 1 − P and slope too."""

    def mean(of_x):
        return integrate.quad(
            lambda y: of_x((v + y) / blur) * math.exp(y - math.exp(y)),
            -45.0,
            4.0,
            points=[-v],
            epsabs=0.0,
            epsrel=1e-10,
            limit=500,
        )[0]

    below, above, density = FadedTable.of(blur).evaluate(np.array(v))
    # The integral over y loses digits in the far lower tail.
    assert below == pytest.approx(mean(stats.norm.cdf), rel=2e-5, abs=1e-12)
    assert above == pytest.approx(mean(stats.norm.sf), rel=1e-6)
    assert density == pytest.approx(mean(stats.norm.pdf) / blur, rel=2e-5, abs=1e-12)


@pytest.mark.derived
def test_little_blur_is_an_outage_and_much_a_normal_curve():
    z = np.linspace(-1.5, 6.0, 40)
    outage, little = (shape_of("outage").evaluate(z), shape_of("faded", 0.02).evaluate(z))
    np.testing.assert_allclose(little[0], outage[0], atol=3e-4)
    much = 5.0
    z = np.linspace(-3.0, 3.0, 40)
    normal = shape_of("probit").evaluate(z)[0]
    blurred = shape_of("faded", much).evaluate(much * z)[0]
    np.testing.assert_allclose(blurred, normal, atol=0.02)
    for limit, form in ((0.0, "outage"), (math.inf, "probit")):
        assert np.array_equal(
            shape_of("faded", limit).evaluate(z)[0], shape_of(form).evaluate(z)[0]
        )


def counts(n=400):
    values = np.arange(-26.0, 7.0, 2.0)
    below = FadedTable.of(0.15).evaluate((values + 21.0) / SCALE_DB)[0]
    k = np.random.default_rng(1).binomial(n, below)
    return Points(values, k, np.full(values.size, n))


def test_family_is_the_likeliest_of_its_members():
    points = counts()
    family = fit_curve(points, "faded")
    assert isinstance(family, Curve)
    n, k = points.n_scored, points.n_decoded[None]
    members = CurveModel("faded").members
    reached = [fit_many(points.values, n, k, member).log_likelihood[0] for member in members]
    assert family.log_likelihood == max(reached)
    assert family.model == members[int(np.argmax(reached))]
    for blur, form in ((0.0, "outage"), (math.inf, "probit")):
        single = fit_curve(points, form)
        assert isinstance(single, Curve)
        assert reached[BLURS.index(blur)] == pytest.approx(single.log_likelihood, abs=1e-9)
    assert family.deviance < fit_curve(points, "probit").deviance - 10.0
    assert family.n_degrees == points.values.size - 4


def test_thresholds_band_and_curve_agree():
    points = counts()
    curve = fit_curve(points, "faded")
    assert isinstance(curve, Curve)
    for p, truth in ((0.5, -21.0 + 1.6), (0.9, -21.0 + 9.8)):
        found = read_threshold(points, p=p, form="faded")
        assert isinstance(found, Threshold)
        assert found.value == pytest.approx(curve.threshold(p))
        assert found.interval.holds(truth)
        low, high = curve.band(np.array([found.interval.low, found.value, found.interval.high]))
        assert high[0] == pytest.approx(p, abs=0.01)
        assert low[2] == pytest.approx(p, abs=0.01)
        assert low[1] <= p <= high[1]


def test_family_never_gives_a_shorter_interval_than_its_best_member():
    points = counts(n=60)
    best = fit_curve(points, "faded")
    assert isinstance(best, Curve)
    own = read_threshold(points, form="outage" if best.model.blur == 0.0 else "probit")
    family = read_threshold(points, form="faded")
    assert isinstance(own, Threshold)
    assert isinstance(family, Threshold)
    if best.model.blur in (0.0, math.inf):
        assert family.interval.low <= own.interval.low + 0.01
        assert family.interval.high >= own.interval.high - 0.01
