"""Two sides on the same trials: few unlike pairs, units of evidence, allowed losses."""

import math

import numpy as np
import pytest
from scipy import stats

from solidcopy.statistics.comparison import PairedPoint, PairedTrials, Penalty, Verdict, penalty
from solidcopy.statistics.duel import (
    Loss,
    judge_loss,
    mean_interval,
    paired_counts,
    shift_by_pairs,
    smallest_after_holm,
    threshold_difference,
    wins,
)
from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold
from solidcopy.statistics.paired_rates import PairedCounts
from solidcopy.statistics.pairs import mcnemar_exact
from solidcopy.statistics.planning import trials_to_find

pytestmark = pytest.mark.derived

VALUES = np.arange(-25.0, -17.5)
SCALE = 0.8


def paired(shift: float, *, n: int = 60, shared: float = 0.9, seed: int = 1) -> PairedTrials:
    """Side b needs `shift` more; a share of the luck is common to a pair."""
    generator = np.random.default_rng(seed)
    run, points = np.full(n, True), []
    for value in VALUES:
        own = np.sqrt(1.0 - shared) * generator.normal(size=(2, n))
        luck = SCALE * (np.sqrt(shared) * generator.normal(size=n) + own)
        a, b = luck[0] < value + 21.5, luck[1] < value + 21.5 - shift
        points.append(PairedPoint(float(value), a, b, run, run))
    return PairedTrials(tuple(points), "dB")


def with_itself(one: PairedTrials) -> PairedTrials:
    points = (
        PairedPoint(p.value, p.decoded_a, p.decoded_a, p.scored_a, p.scored_a) for p in one.points
    )
    return PairedTrials(tuple(points), "dB")


def test_a_side_against_itself_shows_no_difference_and_still_has_a_width():
    same = with_itself(paired(0.0))
    counts = paired_counts(same)
    assert counts.n_unlike == 0 and counts.n == 480
    found = threshold_difference(same)
    assert isinstance(found, Penalty)
    assert found.value == 0.0
    assert found.verdict is Verdict.NOT_SHOWN
    # A shift d makes about d / step of the trials of one axis value unlike: at 1 dB steps
    # n d pairs of 480. The score interval allows 480 z² / (480 + z²) = 3.81: d = 3.81 / 60.
    expected = 3.81 / 60
    assert found.interval.high == pytest.approx(expected, rel=0.1)
    assert found.interval.low == pytest.approx(-expected, rel=0.1)
    assert "shift by pairs" in found.interval.method


def test_with_enough_unlike_pairs_nothing_is_changed():
    trials = paired(0.5, n=200)
    assert paired_counts(trials).n_unlike >= 100
    found, plain = threshold_difference(trials), penalty(trials)
    assert isinstance(found, Penalty) and isinstance(plain, Penalty)
    assert found.interval == plain.interval


def test_few_unlike_pairs_never_shorten_an_interval():
    for seed in range(4):
        trials = paired(0.03, shared=0.999, seed=seed)
        found, plain = threshold_difference(trials), penalty(trials)
        assert isinstance(found, Penalty) and isinstance(plain, Penalty)
        assert found.interval.low <= plain.interval.low
        assert found.interval.high >= plain.interval.high
        assert found.interval.holds(0.03)


def test_zero_is_left_out_only_where_the_exact_test_agrees():
    verdicts = set()
    for seed in range(12):
        trials = paired(0.12, seed=seed)
        counts = paired_counts(trials)
        by_pairs = shift_by_pairs(trials, counts)
        assert by_pairs is not None
        is_shown = not by_pairs.holds(0.0)
        # The exact test at 5 % and the central interval at 95 % are two sides of one thing.
        if is_shown:
            assert mcnemar_exact(counts.n_only_a, counts.n_only_b) <= 0.05
        verdicts.add(is_shown)
    assert verdicts == {True, False}


def test_a_shift_read_from_the_pairs_alone_agrees_with_the_thresholds():
    trials = paired(0.5)
    by_pairs = shift_by_pairs(trials, paired_counts(trials))
    plain = penalty(trials)
    assert by_pairs is not None and isinstance(plain, Penalty)
    assert by_pairs.low == pytest.approx(plain.interval.low, abs=0.1)
    assert by_pairs.high == pytest.approx(plain.interval.high, abs=0.1)


def test_without_a_curve_there_is_no_shift_by_pairs():
    never = np.zeros(20, np.bool_)
    run = np.full(20, True)
    trials = PairedTrials(tuple(PairedPoint(float(x), never, never, run, run) for x in VALUES))
    assert shift_by_pairs(trials, paired_counts(trials)) is None
    assert isinstance(threshold_difference(trials), NoThreshold)


def test_failed_trials_have_no_part_in_the_counts():
    scored = np.array([True, True, False, True])
    a = np.array([True, False, False, True])
    b = np.array([True, True, True, False])
    one = PairedPoint(0.0, a, b, scored, np.full(4, True))
    assert paired_counts(PairedTrials((one,))) == PairedCounts(1, 1, 1, 0)


def test_units_count_once_for_the_side_that_they_lean_to():
    assert wins(np.array([-3, -1, 0, 0, 2, 5])) == (wins_of(2, 2))
    assert wins(np.array([], np.int64)) == wins_of(0, 0)


def wins_of(n_a: int, n_b: int):
    return wins(np.array([-1] * n_a + [1] * n_b, np.int64))


def test_groups_that_share_their_luck_do_not_make_a_difference_up():
    """Sides alike, luck shared by 20 trials in a row: the test over groups keeps its promise, the
    one over trials would not."""
    generator = np.random.default_rng(3)
    n_shown = {"groups": 0, "trials": 0}
    for _ in range(400):
        share = generator.beta(0.3, 0.3, size=24)  # of a group's unlike trials that are b's
        n_b = generator.binomial(20, share)
        net = 2 * n_b - 20
        won = wins(net)
        n_shown["groups"] += mcnemar_exact(won.n_a, won.n_b) < 0.05
        n_shown["trials"] += mcnemar_exact(int((20 - n_b).sum()), int(n_b.sum())) < 0.05
    # 0.05 and three standard deviations of 400 trials: 0.083.
    assert n_shown["groups"] / 400 < 0.083
    assert n_shown["trials"] / 400 > 0.4


def test_the_smallest_of_several_p_values_is_enlarged():
    assert smallest_after_holm([0.01, 0.2, 0.5]) == pytest.approx(0.03)
    assert smallest_after_holm([0.6, 0.7]) == 1.0
    assert smallest_after_holm([]) is None


@pytest.mark.authority
def test_mean_interval_against_scipy():
    values = np.array([0.3, -0.1, 0.4, 0.8, 0.2])
    found = mean_interval(values)
    assert not isinstance(found, NoEvidence)
    expected = stats.ttest_1samp(values, 0.0).confidence_interval(0.95)
    assert found[1].low == pytest.approx(expected.low)
    assert found[1].high == pytest.approx(expected.high)
    assert isinstance(mean_interval(values[:1]), NoEvidence)


def test_planned_trials_follow_the_power():
    interval = Interval(-0.5, 0.5, 0.95, "any")
    # se = 0.5 / 1.96; at 80 % power a difference of 2.8016 se is found.
    found_already = 0.5 * (1.959964 + 0.841621) / 1.959964
    assert trials_to_find(interval, 100, found_already * 1.001) == 0
    assert trials_to_find(interval, 100, found_already / 2) == pytest.approx(300, abs=1)


@pytest.mark.parametrize(
    ("found", "verdict"),
    [
        (Interval(0.21, 0.9, 0.9, "any"), Loss.SHOWN),
        (Interval(0.2, 0.9, 0.9, "any"), Loss.OPEN),
        (Interval(-0.4, 0.2, 0.9, "any"), Loss.RULED_OUT),
        (Interval(-0.4, 0.21, 0.9, "any"), Loss.OPEN),
        (NoThreshold("never reached", "above", 1.0), Loss.SHOWN),
        (NoThreshold("never reached", "above", 0.1), Loss.OPEN),
        (NoThreshold("never below", "below", -1.0), Loss.RULED_OUT),
        (NoThreshold("no trial"), Loss.OPEN),
        (NoEvidence("no trial"), Loss.OPEN),
    ],
)
def test_an_allowed_loss_is_shown_ruled_out_or_open(found, verdict):
    assert judge_loss(found, 0.2) is verdict
    assert judge_loss(found, math.inf) is not Loss.SHOWN
