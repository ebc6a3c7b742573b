"""The posterior that places trials: against a plain quadrature, and where it sends them."""

import numpy as np
import pytest
from scipy import special, stats

from solidcopy.statistics.placement import (
    LOTS,
    N_SCAN,
    Goal,
    belief_of,
    first_round,
    next_round,
)
from solidcopy.statistics.points import Points

pytestmark = pytest.mark.derived
VALUES = np.arange(-27.0, -14.9, 0.5)


def counts(midpoint, scale, n, *, lapse=0.0):
    n = np.broadcast_to(n, VALUES.shape).astype(np.int64)
    share = (1.0 - lapse) * special.ndtr((VALUES - midpoint) / scale)
    return Points(VALUES, np.round(n * share).astype(np.int64), n)


def test_mean_and_spread_agree_with_a_fine_even_grid():
    """No zoom, no pruning, scipy's binomial: 200 by 120 curves and the same five lapses."""
    points = counts(-21.3, 0.8, 12, lapse=0.02)
    for p in (0.5, 0.9):
        belief = belief_of(points, Goal(p))
        m = np.linspace(-23.0, -19.0, 201)
        log_s = np.linspace(np.log(0.125), np.log(6.0), 120)
        mean, square, total = 0.0, 0.0, 0.0
        for lapse in (0.0, 0.01, 0.03, 0.06, 0.095):
            s = np.exp(log_s)[None, :, None]
            share = (1.0 - lapse) * special.ndtr((VALUES - m[:, None, None]) / s)
            weight = np.exp(stats.binom.logpmf(points.n_decoded, 12, share).sum(axis=2) + 30.0)
            threshold = m[:, None] + s[:, :, 0] * special.ndtri(p / (1.0 - lapse))
            total += weight.sum()
            mean += (weight * threshold).sum()
            square += (weight * threshold**2).sum()
        mean /= total
        spread = np.sqrt(square / total - mean**2)
        assert belief.weight @ belief.threshold == pytest.approx(mean, abs=0.1 * spread)
        assert belief.spread == pytest.approx(spread, rel=0.1)


def test_a_lot_goes_where_the_mean_variance_left_is_least():
    """Against all outcomes written out one by one."""
    belief = belief_of(counts(-21.3, 0.8, 2), Goal(0.5))
    n_lot = 4
    for aim in (belief.threshold, belief.log_scale):
        left = []
        for place in range(VALUES.size):
            share, mean_variance = belief.below[:, place], 0.0
            for k in range(n_lot + 1):
                weight = belief.weight * stats.binom.pmf(k, n_lot, share)
                mean = weight @ aim / weight.sum()
                mean_variance += weight @ (aim - mean) ** 2
            left.append(mean_variance)
        assert belief.best_value(n_lot, aim) == int(np.argmin(left))
        assert min(left) < belief.weight @ (aim - belief.weight @ aim) ** 2


def test_the_scale_is_known_once_its_flanks_were_tried():
    assert not belief_of(counts(-21.3, 0.8, 2), Goal(0.5)).is_scale_known
    assert belief_of(counts(-21.3, 0.8, 50), Goal(0.5)).is_scale_known
    assert belief_of(counts(-21.25, 0.01, 50), Goal(0.5)).is_scale_known  # a step


def test_trials_gather_where_the_threshold_is():
    for midpoint in (-25.2, -21.3, -17.0):
        for p, off in ((0.5, 0.0), (0.9, 1.28 * 0.8)):
            chosen = np.array(next_round(belief_of(counts(midpoint, 0.8, 8), Goal(p)), 200))
            mean = float(chosen @ VALUES) / chosen.sum()
            assert abs(mean - midpoint - off) < 0.8
            assert chosen.sum() == LOTS * 5


def test_rounds_grow_by_a_tenth():
    belief = belief_of(counts(-21.3, 0.8, 8), Goal(0.5))
    assert sum(next_round(belief, 1000)) == 100
    assert sum(next_round(belief, 10)) == 20
    assert all(n % 7 == 0 for n in next_round(belief, 10, n_together=7))


def test_the_first_round_covers_the_axis():
    for n_values in (5, 11, 25, 61):
        chosen = first_round(n_values)
        assert chosen[0] > 0 and chosen[-1] > 0
        assert 0.7 * N_SCAN <= sum(chosen) <= N_SCAN
        tried = np.flatnonzero(chosen)
        assert np.diff(tried).max() <= max(1, np.ceil(n_values / 9))
    assert set(first_round(25, n_together=5)) == {0, 5}


def test_off_the_axis_is_noticed():
    assert belief_of(counts(-40.0, 0.8, 6), Goal(0.5)).is_outside
    assert belief_of(counts(0.0, 0.8, 6), Goal(0.5)).is_outside
    assert not belief_of(counts(-26.8, 0.8, 6), Goal(0.5)).is_outside
    assert not belief_of(counts(-21.0, 0.8, 0), Goal(0.5)).is_outside


def test_fading_curves_have_a_posterior_of_their_own():
    """A shoulder of one fade a message puts the 90 % point far above the 50 % point (FACTS B4)."""
    values = np.arange(-27.0, 3.1, 1.5)
    share = np.exp(-(10.0 ** ((-19.0 - values) / 10.0)))
    n = np.full(values.size, 200)
    points = Points(values, np.round(200 * share).astype(np.int64), n)
    means = [
        float(belief.weight @ belief.threshold)
        for belief in (belief_of(points, Goal(p, "faded")) for p in (0.5, 0.9))
    ]
    assert means[0] == pytest.approx(-19.0 + 1.59, abs=0.3)  # −10 lg ln 2
    assert means[1] == pytest.approx(-19.0 + 9.77, abs=0.8)  # −10 lg ln (10/9)
