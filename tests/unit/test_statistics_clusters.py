"""Groups of trials that share their luck: what independent trials would say as much."""

import math
from itertools import product

import numpy as np
import pytest
from scipy import stats

from solidcopy.statistics import pairs
from solidcopy.statistics.clusters import (
    Clustering,
    clustering_of,
    clustering_of_rare,
    effective_trials,
)
from solidcopy.statistics.interval import clopper_pearson, wilson
from solidcopy.statistics.pairs import (
    PairedPoint,
    PairedTrials,
    equal_shares_p,
    mcnemar_exact,
    mcnemar_mid_p,
    sign_flip,
    sign_flip_mid_p,
)


@pytest.mark.derived
def test_no_regard_is_needed_where_groups_do_nothing():
    nothing = Clustering(1.0, math.inf)
    for k, n in ((0, 30), (7, 30), (30, 30)):
        for make in (wilson, clopper_pearson):
            alone, grouped = make(k, n), make(k, n, clustering=nothing)
            assert (grouped.low, grouped.high) == pytest.approx((alone.low, alone.high))
            assert grouped.method.endswith("groups of trials")


@pytest.mark.derived
def test_equal_trials_of_a_group_count_as_one():
    """Of 400 groups of five equal trials: the interval of 400 trials."""
    happened = np.repeat(np.random.default_rng(1).random(400) < 0.1, 5)
    found = clustering_of([(happened, np.full(2000, True))], 5)
    assert effective_trials(2000, found, 0.95) == pytest.approx(400, rel=0.01)
    k = int(happened.sum())
    grouped = clopper_pearson(k, 2000, clustering=found)
    alone = clopper_pearson(k // 5, 400)
    assert (grouped.low, grouped.high) == pytest.approx((alone.low, alone.high), rel=0.01)


@pytest.mark.authority
def test_student_quantile_shortens_what_is_known():
    """The published form: n / inflation, times the squared ratio of normal and t quantiles."""
    expected = 120 / 3.0 * (stats.norm.ppf(0.975) / stats.t.ppf(0.975, 7)) ** 2
    assert effective_trials(120, Clustering(3.0, 7.0), 0.95) == pytest.approx(expected)


@pytest.mark.derived
def test_without_an_event_each_group_counts_as_one_trial():
    scored = np.full(50, True)
    scored[40:] = False
    never = np.full(50, False)
    found = clustering_of_rare([(never, scored), (never, scored)], 10)
    assert effective_trials(80, found, 0.95) == pytest.approx(8.0)
    once = never.copy()
    once[3] = True
    assert clustering_of_rare([(once, scored)], 10) == clustering_of([(once, scored)], 10)


@pytest.mark.derived
def test_flips_of_signs_are_counted():
    """Against a count of all choices of signs."""
    for net in ([3, -1, 4, 1], [5, 5, -2, 0, 7], [-6, -6, -6], [2, -2], [0, 0], []):
        sizes = np.abs(net)
        sums = [abs(np.dot(signs, sizes)) for signs in product((-1, 1), repeat=len(net))]
        share = np.mean(np.array(sums) >= abs(sum(net)))
        assert sign_flip(np.array(net, np.int64)) == pytest.approx(share)


@pytest.mark.authority
@pytest.mark.parametrize(("b", "c"), [(0, 6), (3, 11), (20, 20), (40, 65)])
def test_flips_of_single_trials_are_the_exact_mcnemar_test(b, c):
    """mcnemar_exact is held against statsmodels elsewhere."""
    net = np.array([-1] * b + [1] * c + [0] * 5)
    assert sign_flip(net) == pytest.approx(mcnemar_exact(b, c), rel=1e-9)
    assert sign_flip_mid_p(net) == pytest.approx(mcnemar_mid_p(b, c), rel=1e-9)


@pytest.mark.derived
@pytest.mark.parametrize("net_sum", [40, 150, 300])
def test_flips_of_very_many_groups_are_counted_well_enough(net_sum, monkeypatch):
    """The normal form against all signs counted, at p of 0.7, 0.1 and 0.001."""
    net = np.array([1, -1] * 450 + [3, -3] * 400 + [2] * (net_sum // 2))
    exact = sign_flip(net), sign_flip_mid_p(net)
    monkeypatch.setattr(pairs, "MOST_STEPS", 0)
    assert (sign_flip(net), sign_flip_mid_p(net)) == pytest.approx(exact, rel=0.01)


def grouped(together):
    decoded_a = np.array([True, True, True, False, False, False, True])
    decoded_b = np.array([False, False, False, True, False, False, False])
    scored_b = np.array([True, True, True, True, True, True, False])
    point = PairedPoint(0.0, decoded_a, decoded_b, np.full(7, True), scored_b)
    return PairedTrials((point, point), "dB", together)


@pytest.mark.derived
def test_net_of_each_group():
    """Three a group; the seventh trial was not answered by b."""
    assert grouped((3, 3)).net_by_group().tolist() == [-3, 1, -3, 1]
    assert grouped((2, 3)).net_by_group().tolist() == [-2, -2]
    assert grouped((1, 1)).net_by_group().tolist() == [-1, -1, -1, 1, 0, 0] * 2


@pytest.mark.derived
def test_shares_are_tested_by_groups_where_there_are_any():
    assert equal_shares_p(grouped((1, 1))) == mcnemar_exact(6, 2)
    # Of the 16 choices of signs of 3, 1, 3, 1 those with 3 and 3 alike reach 4 or more... 8 do.
    assert equal_shares_p(grouped((3, 1))) == pytest.approx(0.5)
    nobody = np.full(4, False)
    assert equal_shares_p(PairedTrials((PairedPoint(0.0, *[nobody] * 4),))) is None
