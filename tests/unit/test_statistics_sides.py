"""Two sides set against each other: trial against trial, or with nothing in common."""

import numpy as np
import pytest

from solidcopy.statistics.comparison import Penalty, penalty
from solidcopy.statistics.sides import Side, apart, in_pairs

VALUES = tuple(np.arange(-24.0, -15.0, 1.0).tolist())


def side(midpoint: float, luck: np.ndarray, *, n_together: int = 1) -> Side:
    """Decoded where the luck of a trial is below a cumulative normal of scale 1."""
    from scipy.stats import norm  # noqa: PLC0415

    flags = {}
    for place, value in enumerate(VALUES):
        decoded = luck[place] < norm.cdf(value - midpoint)
        flags[value] = (decoded, np.ones(decoded.size, np.bool_))
    return Side(flags, "dB", n_together)


def test_in_pairs_keeps_trial_against_trial() -> None:
    luck = np.random.default_rng(1).uniform(size=(len(VALUES), 40))
    a, b = side(-20.0, luck), side(-19.0, luck)
    paired = in_pairs(a, b)
    assert paired.n_pairs == 40 * len(VALUES)
    for point in paired.points:
        assert point.n_only_b == 0  # with the same luck the better side decodes all of the other's
        assert point.decoded_a.tolist() == a.by_value[point.value][0].tolist()


def test_sides_of_other_lengths_and_values_keep_all_their_trials() -> None:
    luck = np.random.default_rng(2).uniform(size=(len(VALUES), 40))
    a = side(-20.0, luck)
    b = side(-20.0, luck[:, :25])
    del a.by_value[VALUES[0]], b.by_value[VALUES[-1]]  # type: ignore[attr-defined]
    for joined in (in_pairs(a, b), apart(a, b)):
        assert joined.side_a().n_scored.sum() == 40 * (len(VALUES) - 1)
        assert joined.side_b().n_scored.sum() == 25 * (len(VALUES) - 1)
    assert in_pairs(a, b).n_pairs == 25 * (len(VALUES) - 2)
    assert apart(a, b).n_pairs == 0


@pytest.mark.derived
def test_apart_has_no_correlation_and_the_root_of_the_sum_of_squares() -> None:
    luck = np.random.default_rng(3).uniform(size=(2, len(VALUES), 200))
    a, b = side(-20.0, luck[0]), side(-19.2, luck[1])
    found = penalty(apart(a, b))
    assert isinstance(found, Penalty)
    assert found.correlation == 0.0 and found.n_pairs == 0
    assert found.interval.method == "joined profile likelihoods"
    arms = [
        found.threshold_b.value - found.threshold_b.interval.low,
        found.threshold_a.interval.high - found.threshold_a.value,
    ]
    assert found.value - found.interval.low == pytest.approx(np.hypot(*arms), abs=1e-12)


def test_groups_of_trials_stay_whole() -> None:
    # Three trials share their luck; the other side has a number of trials that 3 does not divide.
    groups = np.repeat(np.random.default_rng(4).uniform(size=(len(VALUES), 20)), 3, axis=1)
    luck = np.random.default_rng(5).uniform(size=(len(VALUES), 40))
    alone, together = side(-20.0, luck), side(-20.0, groups, n_together=3)
    expected = in_pairs(together, together).side_a().clustering
    found = apart(alone, together).side_b().clustering
    assert expected is not None and expected.inflation == pytest.approx(3.0, rel=0.2)
    assert found is not None and found.inflation == pytest.approx(expected.inflation, rel=1e-12)
    assert found.n_degrees == pytest.approx(expected.n_degrees, rel=1e-12)
