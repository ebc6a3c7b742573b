"""Do 95 % intervals hold the truth 95 times in 100? A quick look; test_coverage_table.py has all.

Coverage of thresholds is counted by asking whether the true threshold is accepted by the
profile likelihood, which thousands of campaigns can be asked at once; one test makes sure that
the intervals of `read_threshold` say the same.
"""

from itertools import product

import numpy as np
import pytest
from scipy import stats
from simulated_campaigns import LAPSING, USUAL, Pairing, paired_trials, thresholds_held

from solidcopy.statistics.comparison import Penalty, penalty
from solidcopy.statistics.curve import fit_curve
from solidcopy.statistics.fit import fit_many
from solidcopy.statistics.goodness import simulated_goodness
from solidcopy.statistics.interval import clopper_pearson, wilson
from solidcopy.statistics.model import CurveModel
from solidcopy.statistics.planning import trials_for_half_width
from solidcopy.statistics.points import Points
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.spearman_karber import spearman_karber
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.statistics.through import fit_through

GRID = list(product((20, 50, 200), (0.5, 1.0), (0.5, 0.9)))
ALLOWED = (0.93, 0.975)


def campaigns(truth, *, n, step, n_campaigns, generator):
    """Counts and true 50 % points; the place of the curve between the axis values is random."""
    values = np.arange(-25.0, -17.0 + step / 2, step)
    midpoint = -21.0 + generator.uniform(0, step, n_campaigns)
    return values, generator.binomial(n, truth.share(values - midpoint[:, None])), midpoint


def test_threshold_coverage():
    """Each campaign plan on its own, and all together."""
    generator = np.random.default_rng(101)
    n_campaigns, shares = 250, []
    for n, step, p in GRID:
        covered = thresholds_held(
            USUAL,
            n=n,
            p=p,
            n_campaigns=n_campaigns,
            generator=generator,
            values=np.arange(-25.0, -17.0 + step / 2, step),
        )
        shares.append(covered.mean())
        # Within the allowed band but for the simulation's own scatter (99.9 %).
        scatter = 3.3 * np.sqrt(0.95 * 0.05 / n_campaigns)
        assert ALLOWED[0] - scatter < shares[-1], (n, step, p)
    # 3000 campaigns together: standard deviation 0.4 %.
    assert 0.935 < np.mean(shares) < 0.965


def test_intervals_hold_what_the_profile_accepts():
    """The printed interval holds the truth exactly when the likelihood accepts it."""
    generator = np.random.default_rng(103)
    truth, n = LAPSING, 50
    values, k, midpoint = campaigns(truth, n=n, step=1.0, n_campaigns=40, generator=generator)
    true_threshold = midpoint + truth.quantile(0.5)
    fits = fit_many(values, np.full(values.size, n), k)
    counts = Counts(np.full(k.shape, float(n)), k.astype(float))
    through = fit_through(values, counts, (true_threshold, np.full(40, 0.5)), CurveModel())
    accepted = 2.0 * (fits.log_likelihood - through) <= stats.chi2.ppf(0.8, 1)
    for row in range(40):
        points = Points(values, k[row], np.full(values.size, n))
        found = read_threshold(points, confidence=0.8)
        assert isinstance(found, Threshold)
        assert found.interval.holds(true_threshold[row]) == accepted[row]


def penalty_coverage(n_campaigns, pairing, *, n, p, generator):
    held, ratios, n_none = 0, [], 0
    for _ in range(n_campaigns):
        trials, _ = paired_trials(USUAL, pairing, n=n, generator=generator)
        found = penalty(trials, p=p)
        if not isinstance(found, Penalty):
            n_none += 1
            continue
        held += found.interval.holds(pairing.shift)
        arms = [t.interval.half_width for t in (found.threshold_a, found.threshold_b)]
        ratios.append(found.interval.half_width / np.hypot(*arms))
    return held / (n_campaigns - n_none), float(np.mean(ratios)), n_none


def test_penalty_coverage_and_the_gain_of_pairing():
    generator = np.random.default_rng(104)
    coverage, ratio, n_none = penalty_coverage(
        100, Pairing(0.5, 0.8), n=50, p=0.5, generator=generator
    )
    assert n_none == 0
    assert coverage > 0.88  # 95 % of 100 has a standard deviation of 2.2 %
    # The outcomes correlate by about 0.45 here: √(1 − 0.45) of the unpaired length.
    assert 0.68 < ratio < 0.82


@pytest.mark.derived
@pytest.mark.parametrize("p", [0.01, 0.2, 0.5])
def test_exact_intervals_never_cover_less_and_score_intervals_do_on_average(p):
    """Coverage summed exactly over all counts, not simulated."""
    score = []
    for n in range(20, 60):
        weights = stats.binom.pmf(np.arange(n + 1), n, p)
        exact = sum(w for k, w in enumerate(weights) if clopper_pearson(k, n).holds(p))
        assert exact >= 0.95 - 1e-12
        score.append(sum(w for k, w in enumerate(weights) if wilson(k, n).holds(p)))
    assert 0.94 < np.mean(score) < 0.985


def test_spearman_karber_agrees_with_the_fit_and_its_own_error():
    generator = np.random.default_rng(106)
    values, k, midpoint = campaigns(USUAL, n=50, step=1.0, n_campaigns=400, generator=generator)
    # The classic rule wants shares of 0 and 1 at the ends: a few campaigns are left out.
    rows = np.flatnonzero((k[:, 0] == 0) & (k[:, -1] == 50))
    assert rows.size > 390
    points = [Points(values, k[row], np.full(values.size, 50)) for row in rows]
    means, errors = np.array([spearman_karber(point) for point in points]).T
    off = means - midpoint[rows]
    # FACTS E5: 0.0950 by formula for s = 0.8, d = 1, n = 50; simulation there 0.0960.
    assert off.std() == pytest.approx(0.095, rel=0.12)
    assert np.sqrt(np.mean(errors**2)) == pytest.approx(0.095, rel=0.05)
    fitted = fit_many(values, np.full(values.size, 50), k[rows]).thresholds(0.5)
    assert np.abs(np.mean(fitted - means)) < 0.01


def test_the_plan_delivers_the_precision_it_promises():
    generator = np.random.default_rng(107)
    n = trials_for_half_width(0.8, 1.0, 0.2)
    values, k, _ = campaigns(USUAL, n=n, step=1.0, n_campaigns=30, generator=generator)
    found = [read_threshold(Points(values, row, np.full(values.size, n))) for row in k]
    assert np.mean([t.interval.half_width for t in found]) == pytest.approx(0.2, rel=0.08)


def test_p_values_of_true_curves_are_even():
    """The simulated goodness of a true curve is as often below 0.1 as a p-value should be."""
    generator = np.random.default_rng(108)
    values, k, _ = campaigns(USUAL, n=20, step=1.0, n_campaigns=60, generator=generator)
    p_values = []
    for row in k:
        curve = fit_curve(Points(values, row, np.full(values.size, 20)))
        p_values.append(simulated_goodness(curve, generator, n_simulated=49).p_value)
    # 60 · 0.2 = 12 expected, standard deviation 3.1.
    assert 3 <= np.sum(np.array(p_values) <= 0.2) <= 22
    assert 0.35 < np.mean(p_values) < 0.68
