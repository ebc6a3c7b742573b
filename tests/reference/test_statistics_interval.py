"""Intervals and paired tests against statsmodels, scipy and the digits of FACTS E5."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from solidcopy.statistics.interval import (
    clopper_pearson,
    rate_interval,
    upper_bound_for_none,
    wilson,
)
from solidcopy.statistics.pairs import mcnemar_exact, mcnemar_mid_p

# FACTS E5: computed with statsmodels 0.15.0, cross-checked with scipy; given to 5 digits.
TABLE = [
    (8, 10, (0.49016, 0.94332), (0.44390, 0.97479)),
    (0, 20, (0.0, 0.16113), (0.0, 0.16843)),
    (20, 20, (0.83887, 1.0), (0.83157, 1.0)),
    (0, 100, (0.0, 0.03699), (0.0, 0.03622)),
    (50, 100, (0.40383, 0.59617), (0.39832, 0.60168)),
    (95, 100, (0.88825, 0.97846), (0.88717, 0.98357)),
    (1, 1000, (0.00018, 0.00564), (0.00003, 0.00556)),
]
HALF_A_DIGIT = 0.51e-5


@pytest.mark.authority
@pytest.mark.parametrize(("k", "n", "by_wilson", "exact"), TABLE)
def test_published_digits(k, n, by_wilson, exact):
    for interval, expected in ((wilson(k, n), by_wilson), (clopper_pearson(k, n), exact)):
        assert interval.low == pytest.approx(expected[0], abs=HALF_A_DIGIT)
        assert interval.high == pytest.approx(expected[1], abs=HALF_A_DIGIT)


@pytest.mark.authority
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
@pytest.mark.parametrize("n", [1, 2, 7, 59, 1000])
def test_every_count_agrees_with_statsmodels_and_scipy(n, confidence):
    for k in np.unique(np.linspace(0, n, 8).astype(int)):
        for method, name, own in (("wilson", "wilson", wilson), ("beta", "exact", clopper_pearson)):
            found = own(int(k), n, confidence)
            # statsmodels rounds nothing; the quantile routines differ in the last digits.
            reference = proportion_confint(k, n, alpha=1.0 - confidence, method=method)
            assert (found.low, found.high) == pytest.approx(reference, abs=1e-9)
            other = stats.binomtest(int(k), n).proportion_ci(confidence, method=name)
            assert (found.low, found.high) == pytest.approx((other.low, other.high), abs=1e-9)


def test_ends_at_no_and_all_events_are_exactly_zero_and_one():
    for own in (wilson, clopper_pearson):
        for n in (1, 3, 17, 10_000):
            assert own(0, n).low == 0.0
            assert own(n, n).high == 1.0


@pytest.mark.authority
@pytest.mark.parametrize(
    ("n", "bound"),
    [(20, 0.13911), (59, 0.04951), (100, 0.02951), (299, 0.00997), (1000, 0.00299)],
)
def test_no_event_bound(n, bound):
    # FACTS E5, exact one-sided 95 % bound.
    assert upper_bound_for_none(n) == pytest.approx(bound, abs=HALF_A_DIGIT)
    reference = stats.binomtest(0, n, alternative="less").proportion_ci(0.95).high
    assert upper_bound_for_none(n) == pytest.approx(reference, abs=1e-12)
    assert upper_bound_for_none(n) < clopper_pearson(0, n).high


@pytest.mark.authority
@pytest.mark.parametrize("n_events", [0, 1, 2, 5, 40, 300])
def test_rate_agrees_with_statsmodels(n_events):
    found = rate_interval(n_events, 250.0, 0.9)
    reference = confint_poisson(n_events, 250.0, method="exact-c", alpha=0.1)
    low = 0.0 if n_events == 0 else reference[0]  # statsmodels answers nan for no event
    assert (found.low, found.high) == pytest.approx((low, reference[1]), rel=1e-9)


@pytest.mark.derived
def test_rate_of_no_event_in_one_slot():
    # exp(−rate) = 0.025 for the upper end of a two-sided 95 % interval.
    assert rate_interval(0, 1.0).high == pytest.approx(-np.log(0.025), rel=1e-12)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("b", "c", "exact"), [(10, 2, 0.03857), (5, 0, 0.0625), (15, 5, 0.04139), (25, 10, 0.01667)]
)
def test_mcnemar_digits_and_statsmodels(b, c, exact):
    assert mcnemar_exact(b, c) == pytest.approx(exact, abs=HALF_A_DIGIT)
    assert mcnemar_exact(c, b) == mcnemar_exact(b, c)
    reference = mcnemar([[90, b], [c, 70]], exact=True).pvalue
    assert mcnemar_exact(b, c) == pytest.approx(reference, rel=1e-12)


@pytest.mark.authority
def test_mcnemar_mid_p_digits():
    assert mcnemar_mid_p(10, 2) == pytest.approx(0.02246, abs=HALF_A_DIGIT)  # FACTS E5


@pytest.mark.derived
def test_few_discordant_pairs_cannot_convince():
    # Two-sided exact p is at least 2 / 2^n.
    assert min(mcnemar_exact(n, 0) for n in range(6)) == 0.0625
    assert mcnemar_exact(0, 0) == 1.0
    assert mcnemar_mid_p(4, 4) == pytest.approx(1.0)
    assert mcnemar_mid_p(0, 0) == 1.0


@pytest.mark.parametrize("k_n", [(-1, 5), (6, 5), (0, 0)])
def test_impossible_counts_are_refused(k_n):
    for own in (wilson, clopper_pearson):
        with pytest.raises(ValueError, match="impossible counts"):
            own(*k_n)
    with pytest.raises(ValueError, match="confidence"):
        wilson(1, 2, 1.0)
    with pytest.raises(ValueError, match="impossible"):
        rate_interval(0, 0.0)
    with pytest.raises(ValueError, match="negative"):
        mcnemar_exact(-1, 0)
    with pytest.raises(ValueError, match="negative"):
        mcnemar_mid_p(0, -1)
