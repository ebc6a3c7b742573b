"""Paired trials and the penalty read from them."""

import numpy as np
import pytest
from scipy import stats

from solidcopy.statistics.comparison import PairedPoint, PairedTrials, Penalty, Verdict, penalty
from solidcopy.statistics.curve import fit_curve
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.points import Points
from solidcopy.statistics.sensitivity import threshold_correlation, threshold_weights
from solidcopy.statistics.threshold import read_threshold

VALUES = np.arange(-25.0, -16.0)


def paired(shift, *, n=60, seed=1, shared=0.9, values_a=VALUES, values_b=VALUES):
    """Trials whose luck is partly shared; side b needs `shift` more."""
    generator = np.random.default_rng(seed)
    points = []
    for value in np.union1d(values_a, values_b):
        luck = np.sqrt(shared) * generator.normal(size=(n, 1)) + np.sqrt(
            1 - shared
        ) * generator.normal(size=(n, 2))
        run_a, run_b = np.full(n, value in values_a), np.full(n, value in values_b)
        decoded = luck * 0.8 < value - np.array([-21.3, -21.3 + shift])
        points.append(
            PairedPoint(float(value), decoded[:, 0] & run_a, decoded[:, 1] & run_b, run_a, run_b)
        )
    return PairedTrials(tuple(points), "dB")


def test_sides_keep_their_own_counts():
    trials = paired(0.5, n=10)
    for side, name in ((trials.side_a(), "a"), (trials.side_b(), "b")):
        flags = [getattr(point, f"decoded_{name}") for point in trials.points]
        assert side.n_decoded.tolist() == [int(flag.sum()) for flag in flags]
        assert side.n_scored.tolist() == [10] * 9
        assert side.unit == "dB"
    assert trials.n_pairs == 90


def test_discordant_trials_count_only_where_both_are_scored():
    point = PairedPoint(
        1.0,
        np.array([True, True, False, False, True]),
        np.array([False, True, True, False, False]),
        np.array([True, True, True, True, True]),
        np.array([True, True, True, True, False]),
    )
    assert (point.n_both, point.n_only_a, point.n_only_b) == (4, 1, 1)


def test_penalty_is_the_difference_of_the_thresholds():
    trials = paired(1.5)
    found = penalty(trials)
    a, b = read_threshold(trials.side_a()), read_threshold(trials.side_b())
    assert (found.threshold_a, found.threshold_b) == (a, b)
    assert found.value == pytest.approx(b.value - a.value)
    assert found.interval.holds(1.5)
    assert found.verdict is Verdict.B_NEEDS_MORE
    assert found.n_pairs == 540


def test_pairs_shorten_the_interval():
    """Scrambling b's trials keeps both curves and loses the pairing."""
    trials = paired(0.3, n=100, shared=0.98)
    generator = np.random.default_rng(2)
    loose = PairedTrials(
        tuple(
            PairedPoint(
                p.value, p.decoded_a, generator.permutation(p.decoded_b), p.scored_a, p.scored_b
            )
            for p in trials.points
        )
    )
    kept, lost = penalty(trials), penalty(loose)
    assert kept.value == pytest.approx(lost.value)
    assert kept.correlation > 0.5
    assert abs(lost.correlation) < 0.15
    assert kept.interval.half_width < 0.75 * lost.interval.half_width


def test_identical_sides_differ_by_exactly_nothing():
    trials = paired(0.0)
    same = PairedTrials(
        tuple(
            PairedPoint(p.value, p.decoded_a, p.decoded_a, p.scored_a, p.scored_a)
            for p in trials.points
        )
    )
    found = penalty(same)
    assert found.value == 0.0
    assert found.correlation == pytest.approx(1.0, abs=0.1)
    assert found.interval.holds(0.0)
    # What is left is the lopsidedness of one side's interval.
    assert found.interval.half_width < 0.25 * found.threshold_a.interval.half_width * 2
    assert found.verdict is Verdict.NOT_SHOWN


def test_swapping_the_sides_turns_the_penalty_round():
    trials = paired(0.7)
    swapped = PairedTrials(
        tuple(
            PairedPoint(p.value, p.decoded_b, p.decoded_a, p.scored_b, p.scored_a)
            for p in trials.points
        )
    )
    there, back = penalty(trials), penalty(swapped)
    assert back.value == pytest.approx(-there.value)
    assert back.interval.low == pytest.approx(-there.interval.high)
    assert back.interval.high == pytest.approx(-there.interval.low)
    assert back.verdict is Verdict.B_NEEDS_LESS


@pytest.mark.parametrize("shift", [4.0, 10.0])
def test_axes_may_overlap_in_part_or_not_at_all(shift):
    trials = paired(shift, values_b=VALUES + round(shift))
    found = penalty(trials)
    assert isinstance(found, Penalty)
    assert found.interval.holds(shift)
    assert abs(found.correlation) < 0.4
    if shift == 10.0:
        assert (found.n_pairs, found.correlation) == (0, 0.0)
        arms = [t.interval.half_width for t in (found.threshold_a, found.threshold_b)]
        assert found.interval.half_width == pytest.approx(np.hypot(*arms), rel=0.05)


def test_steps_are_joined_without_a_correlation():
    """Both sides perfectly separated: each lies somewhere in its gap, nothing is known more."""
    n = 20
    yes, no, run = np.full(n, True), np.full(n, False), np.full(n, True)
    trials = PairedTrials(
        tuple(
            PairedPoint(v, yes if v > -21.5 else no, yes if v > -20.5 else no, run, run)
            for v in VALUES
        )
    )
    found = penalty(trials)
    assert found.correlation == 0.0
    assert found.value == pytest.approx(1.0)
    assert found.interval.half_width == pytest.approx(np.hypot(0.5, 0.5), abs=0.01)


def test_a_side_without_a_threshold_still_bounds_the_penalty():
    trials = paired(12.0)
    found = penalty(trials)
    assert isinstance(found, NoThreshold)
    assert found.reason.startswith("side b: no message was decoded")
    a = read_threshold(trials.side_a())
    b = read_threshold(trials.side_b())
    assert found.bound == "above"
    assert found.limit == pytest.approx(b.limit - a.interval.high)
    assert 3.0 < found.limit < 12.0
    swapped = PairedTrials(
        tuple(
            PairedPoint(p.value, p.decoded_b, p.decoded_a, p.scored_b, p.scored_a)
            for p in trials.points
        )
    )
    back = penalty(swapped)
    assert back.reason.startswith("side a: ")
    assert (back.bound, back.limit) == ("below", pytest.approx(-found.limit))


def test_neither_side_with_a_threshold_names_both():
    n = 8
    no, run = np.full(n, False), np.full(n, True)
    found = penalty(PairedTrials(tuple(PairedPoint(v, no, run, run, run) for v in VALUES)))
    assert "side a: no message" in found.reason
    assert "side b: every message" in found.reason
    assert (found.bound, found.limit) == (None, None)


def test_weights_are_the_movement_of_the_refitted_threshold():
    trials = paired(0.0, n=4000, seed=3)
    points = trials.side_a()
    curve = fit_curve(points, max_lapse=0.0)
    for p in (0.5, 0.9):
        weights = threshold_weights(curve, p)
        for row in (3, 4, 5):
            moved = []
            for change in (-20, 20):
                decoded = points.n_decoded + change * (np.arange(VALUES.size) == row)
                again = Points(points.values, decoded, points.n_scored)
                moved.append(fit_curve(again, max_lapse=0.0).threshold(p))
            slope = (moved[1] - moved[0]) / 40
            assert slope == pytest.approx(weights[row], rel=0.05, abs=1e-6)


def test_correlation_is_that_of_repeated_experiments():
    """Thresholds of 300 repeated experiments correlate as one experiment predicts."""
    predicted, values = [], []
    for seed in range(300):
        trials = paired(0.3, n=80, seed=seed, shared=0.8)
        curves = [fit_curve(side, max_lapse=0.0) for side in (trials.side_a(), trials.side_b())]
        values.append([curve.threshold(0.5) for curve in curves])
        predicted.append(threshold_correlation(trials, *curves, 0.5))
    seen = stats.pearsonr(*np.array(values).T)
    low, high = seen.confidence_interval(0.999)
    assert low < np.mean(predicted) < high


def test_unequal_or_contradicting_flags_are_refused():
    yes, no = np.array([True]), np.array([False])
    with pytest.raises(TypeError, match="equally long"):
        PairedPoint(1.0, yes, np.array([True, False]), yes, yes)
    with pytest.raises(TypeError, match="bool"):
        PairedPoint(1.0, np.array([1]), yes, yes, yes)
    with pytest.raises(ValueError, match="without a score"):
        PairedPoint(1.0, yes, yes, no, yes)
