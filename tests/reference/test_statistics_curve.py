"""Fits against statsmodels, psignifit and the worked set of FACTS E5."""

import numpy as np
import psignifit
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.genmod.families import Binomial, links

from solidcopy.statistics.curve import fit_curve
from solidcopy.statistics.goodness import chi_square_goodness, simulated_goodness
from solidcopy.statistics.points import Points
from solidcopy.statistics.sensitivity import threshold_weights
from solidcopy.statistics.spearman_karber import spearman_karber
from solidcopy.statistics.threshold import read_threshold

VALUES = np.arange(-25.0, -16.0)
DECODED = np.array([0, 0, 4, 20, 55, 85, 97, 100, 100])
WORKED = Points(VALUES, DECODED, np.full(9, 100))
HALF_A_DIGIT = 0.51e-4
LINKS = {"probit": links.Probit(), "logit": links.Logit(), "outage": links.LogLog()}
# statsmodels' log-log link is p = exp(−exp(−η)); ours has a factor ln 2, which only shifts η.
ETA_AT_HALF = {"probit": 0.0, "logit": 0.0, "outage": -np.log(np.log(2.0))}


def glm(points, form):
    table = np.column_stack([points.n_decoded, points.n_scored - points.n_decoded])
    design = sm.add_constant(points.values)
    return sm.GLM(table, design, family=Binomial(link=LINKS[form])).fit(tol=1e-12)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("form", "t50", "scale", "deviance", "fieller"),
    [
        ("probit", -21.1064, 1.0604, 1.247, (-21.2579, -20.9550)),
        ("logit", -21.1101, 0.5886, 3.506, (-21.2620, -20.9581)),
    ],
)
def test_worked_set(form, t50, scale, deviance, fieller):
    curve = fit_curve(WORKED, form, max_lapse=0.0)
    assert curve.threshold(0.5) == pytest.approx(t50, abs=HALF_A_DIGIT)
    assert curve.scale == pytest.approx(scale, abs=HALF_A_DIGIT)
    assert curve.deviance == pytest.approx(deviance, abs=5e-4)
    # Fieller's interval is another method: at 900 trials the two agree to a few thousandths.
    found = read_threshold(WORKED, form=form, max_lapse=0.0).interval
    assert (found.low, found.high) == pytest.approx(fieller, abs=0.003)


@pytest.mark.authority
@pytest.mark.parametrize("form", ["probit", "logit", "outage"])
@pytest.mark.parametrize("seed", range(6))
def test_fit_without_lapse_agrees_with_statsmodels(form, seed):
    generator = np.random.default_rng(seed)
    values = np.sort(generator.uniform(-25, -17, 9))
    n = generator.integers(15, 120, 9)
    decoded = generator.binomial(n, stats.norm.cdf((values + 21) / generator.uniform(0.7, 2)))
    points = Points(values, decoded, n)
    reference = glm(points, form)
    intercept, slope = reference.params
    curve = fit_curve(points, form, max_lapse=0.0)
    assert curve.midpoint == pytest.approx((ETA_AT_HALF[form] - intercept) / slope, abs=1e-4)
    assert curve.scale == pytest.approx(1.0 / slope, abs=1e-4)
    assert curve.deviance == pytest.approx(reference.deviance, abs=1e-6)


@pytest.mark.authority
@pytest.mark.parametrize("form", ["probit", "logit"])
def test_first_order_spread_agrees_with_the_delta_method(form):
    # FACTS E5: delta SE 0.0766 (probit), 0.0767 (logit), from statsmodels.
    curve = fit_curve(WORKED, form, max_lapse=0.0)
    weights = threshold_weights(curve, 0.5)
    fitted = curve.probability(VALUES)
    spread = np.sqrt(np.sum(weights**2 * 100 * fitted * (1 - fitted)))
    assert spread == pytest.approx({"probit": 0.0766, "logit": 0.0767}[form], abs=HALF_A_DIGIT)


@pytest.mark.authority
def test_spearman_karber_worked_set():
    mean, standard_error = spearman_karber(WORKED)
    assert mean == pytest.approx(-21.11, abs=1e-9)
    assert standard_error == pytest.approx(0.0780, abs=HALF_A_DIGIT)


@pytest.mark.authority
def test_psignifit_agrees_within_its_priors():
    """psignifit with our model: no guesses, no extra scatter, a lapse under its prior.

    It reports the largest posterior density on a grid, and a credible interval. Its priors on
    threshold and width are broad here, so estimate and ends may differ by a small part of the
    interval's length (0.3).
    """
    data = np.column_stack([VALUES, DECODED, np.full(9, 100)])
    result = psignifit.psignifit(
        data,
        sigmoid="norm",
        experiment_type="yes/no",
        fixed_parameters={"gamma": 0.0, "eta": 1e-8},
    )
    ours = read_threshold(WORKED)
    assert ours.value == pytest.approx(result.parameter_estimate_MAP["threshold"], abs=0.005)
    theirs = result.confidence_intervals["threshold"]["0.95"]
    assert (ours.interval.low, ours.interval.high) == pytest.approx(theirs, abs=0.05)


@pytest.mark.derived
def test_free_lapse_explains_stray_misses():
    """Two misses far above the threshold: as a lapse they leave the curve where it was."""
    stray = Points(VALUES, DECODED - np.array([0, 0, 0, 0, 0, 0, 0, 1, 2]), np.full(9, 100))
    free, fixed = fit_curve(stray), fit_curve(stray, max_lapse=0.0)
    clean = fit_curve(WORKED)
    assert clean.lapse < 1e-4
    assert 0.0 < free.lapse < 0.03
    assert free.deviance < fixed.deviance - 2.0
    assert abs(free.scale - clean.scale) < abs(fixed.scale - clean.scale)


@pytest.mark.authority
def test_chi_square_p_value_is_scipys():
    curve = fit_curve(WORKED, "logit", max_lapse=0.0)
    found = chi_square_goodness(curve)
    assert found.n_degrees == 7
    assert found.p_value == pytest.approx(stats.chi2.sf(curve.deviance, 7), rel=1e-9)


@pytest.mark.derived
def test_simulated_goodness_tells_a_wrong_shape():
    """An outage curve, fitted as such and as a probit: only the wrong shape is surprising."""
    values = np.arange(-24.0, 0.0, 1.5)
    # FACTS B4: exp(−10^((T − S)/10)), T = −17.
    expected = 1000 * np.exp(-(10 ** ((-17 - values) / 10)))
    points = Points(values, np.rint(expected).astype(int), np.full(values.size, 1000))
    generator = np.random.default_rng(20)
    right = simulated_goodness(fit_curve(points, "outage"), generator, n_simulated=199)
    wrong = simulated_goodness(fit_curve(points, "probit"), generator, n_simulated=199)
    assert right.p_value > 0.5
    assert wrong.p_value == pytest.approx(1 / 200)


@pytest.mark.derived
def test_rayleigh_outage_has_its_scale():
    """FACTS B4 gives +1.6 dB for 50 % and +9.8 dB for 90 % above the threshold without fading.

    The form without noise spread: 50 % at T − 10 lg ln 2 = T + 1.592 dB, scale 10 / ln 10.
    """
    values = np.arange(-6.0, 24.0, 2.0)
    expected = 1e6 * np.exp(-(10 ** (-values / 10)))
    points = Points(values, np.rint(expected).astype(int), np.full(values.size, 1_000_000))
    curve = fit_curve(points, "outage", max_lapse=0.0)
    assert curve.threshold(0.5) == pytest.approx(1.592, abs=0.003)
    assert curve.threshold(0.9) == pytest.approx(9.773, abs=0.01)
    assert curve.scale == pytest.approx(4.343, abs=0.003)
