"""Thresholds where the counts are kind, and where they are not: each case has one answer."""

import numpy as np
import pytest

from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.points import Points
from solidcopy.statistics.tally import Tally
from solidcopy.statistics.threshold import Threshold, read_threshold

VALUES = np.arange(-25.0, -16.0)


def points(*decoded, n=20):
    return Points(VALUES, np.array(decoded), np.full(9, n), "dB")


def test_perfect_separation_is_the_gap_and_no_more():
    # Two misses at p = 0.5 cost 2 · 2 ln 2 = 2.8 of deviance, less than the 3.84 allowed.
    found = read_threshold(points(0, 0, 0, 0, 20, 20, 20, 20, 20))
    assert found.value == pytest.approx(-21.5)
    # Any steep curve between −22 and −21 explains everything: the interval fills the gap.
    assert found.interval.low == pytest.approx(-22.0, abs=0.02)
    assert found.interval.high == pytest.approx(-21.0, abs=0.02)


def test_perfect_separation_with_few_trials_is_wider_than_the_gap():
    # Two misses at p = 0.5 cost 2 · 2 ln 2 = 2.8 of deviance, less than the 3.84 allowed.
    found = read_threshold(points(0, 0, 0, 0, 2, 2, 2, 2, 2, n=2))
    assert found.interval.low < -22.0
    assert found.interval.high > -21.0


def test_separation_with_one_stray_miss_is_a_lapse():
    curve = fit_curve(points(0, 0, 0, 0, 20, 20, 20, 20, 19))
    assert curve.midpoint == pytest.approx(-21.5)
    assert curve.lapse == pytest.approx(0.01, abs=1e-4)  # 1 of the 100 trials above the step


def test_one_mixed_point_bounds_the_threshold_around_it():
    found = read_threshold(points(0, 0, 0, 0, 8, 20, 20, 20, 20))
    assert -21.3 < found.interval.low < -21.0 < found.interval.high < -20.5
    assert found.interval.holds(found.value)


@pytest.mark.parametrize("p", [0.1, 0.5, 0.9])
def test_all_missed_lies_above(p):
    found = read_threshold(points(*[0] * 9), p=p)
    assert isinstance(found, NoThreshold)
    assert found.reason == ("no message was decoded (0 of 180), even at −17 dB: add higher values")
    assert found.bound == "above"
    assert found.limit == pytest.approx(-17.0, abs=0.5)


@pytest.mark.parametrize("p", [0.1, 0.5, 0.9])
def test_all_decoded_lies_below(p):
    found = read_threshold(points(*[20] * 9), p=p)
    assert found.reason == (
        "every message was decoded (180 of 180), even at −25 dB: add lower values"
    )
    assert found.bound == "below"
    assert found.limit == pytest.approx(-25.0, abs=0.5)


def test_never_reached_names_the_highest_share_and_what_to_do():
    found = read_threshold(points(0, 0, 0, 0, 0, 0, 1, 3, 7))
    assert found.reason == "0.5 was never reached: highest 0.35 at −17 dB; add higher values"
    assert found.bound == "above"
    assert -17.5 < found.limit < -16.5


def test_never_below_names_the_lowest_share_and_what_to_do():
    found = read_threshold(points(14, 18, 20, 20, 20, 20, 20, 20, 20))
    assert found.reason == "never below 0.5: lowest 0.7 at −25 dB; add lower values"
    assert found.bound == "below"
    assert -25.5 < found.limit < -24.5


@pytest.mark.parametrize("decoded", [(20, 20, 20, 20, 20, 10, 5, 0, 0), (5,) * 9])
def test_falling_and_flat_shares_have_no_threshold(decoded):
    found = read_threshold(points(*decoded))
    assert "does not rise" in found.reason
    assert (found.bound, found.limit) == (None, None)


def test_an_open_side_is_named():
    found = read_threshold(points(0, 0, 1, 3, 7, 11, 16, 17, 18), p=0.9)
    assert isinstance(found, NoThreshold)
    assert "do not bound the 0.9 point on the higher side" in found.reason
    assert found.bound == "above"


def test_few_trials_give_a_long_interval_or_none():
    """The interval grows as the trials get fewer; at last it has an open side."""
    share = np.array([0, 0, 0, 0.25, 0.5, 0.75, 1, 1, 1])
    widths = []
    for n in (400, 40, 4):
        found = read_threshold(points(*np.rint(share * n).astype(int), n=n))
        widths.append(found.interval.half_width)
    assert widths[0] < widths[1] < widths[2]
    assert widths[1] == pytest.approx(widths[0] * np.sqrt(10), rel=0.15)
    scarce = Points(np.array([-21.0, -20.0]), np.array([0, 1]), np.array([1, 1]), "dB")
    assert isinstance(read_threshold(scarce), NoThreshold)


def test_one_axis_value_or_none_says_so():
    lone = Points(np.array([-20.0]), np.array([3]), np.array([9]), "dB")
    assert read_threshold(lone).reason == ("only one axis value was tested (−20 dB): add others")
    empty = Points(np.array([]), np.array([], int), np.array([], int))
    assert read_threshold(empty).reason == "no trial was scored: run trials first"
    unscored = Points(VALUES, np.zeros(9, int), np.zeros(9, int))
    assert read_threshold(unscored) == read_threshold(empty)


def test_points_without_a_score_do_not_matter():
    full = points(0, 0, 1, 5, 11, 17, 20, 20, 20)
    values = np.append(VALUES, -12.0)
    more = Points(values, np.append(full.n_decoded, 0), np.append(full.n_scored, 0), "dB")
    assert read_threshold(more) == read_threshold(full)


def test_a_plateau_below_p_has_no_threshold():
    counts = np.array([0, 0, 0, 60, 180, 182, 178, 181, 179])
    found = read_threshold(points(*counts, n=200), p=0.95)
    assert isinstance(found, NoThreshold)
    assert "never reached" in found.reason
    curve = fit_curve(points(*counts, n=200))
    assert "levels off at 0.9" in curve.threshold(0.95).reason
    assert isinstance(read_threshold(points(*counts, n=200), p=0.5), Threshold)


@pytest.mark.parametrize("form", ["probit", "logit", "outage"])
def test_threshold_inverts_probability(form):
    curve = fit_curve(points(0, 0, 1, 5, 11, 17, 19, 20, 19), form)
    assert isinstance(curve, Curve)
    for p in (0.1, 0.5, 0.9):
        assert curve.probability(np.array(curve.threshold(p))) == pytest.approx(p, abs=1e-9)
    assert np.all(np.diff(curve.probability(np.linspace(-30, -10, 400))) >= 0.0)
    shape = curve.model.shape
    low, high = (curve.midpoint + curve.scale * shape.z(share) for share in (0.1, 0.9))
    assert curve.width == pytest.approx(high - low)
    shares = curve.probability(np.array([low, curve.midpoint, high])) / (1.0 - curve.lapse)
    assert shares == pytest.approx([0.1, 0.5, 0.9])


def test_interval_and_band_are_cuts_of_one_region():
    counts = points(0, 0, 1, 5, 11, 17, 19, 20, 20)
    curve = fit_curve(counts)
    for p in (0.3, 0.5, 0.8):
        interval = read_threshold(counts, p=p).interval
        low, high = curve.band(np.array([interval.low, interval.high]))
        assert high[0] == pytest.approx(p, abs=2e-3)
        assert low[1] == pytest.approx(p, abs=2e-3)


def test_band_holds_the_curve_and_stays_a_probability():
    curve = fit_curve(points(0, 0, 1, 5, 11, 17, 19, 20, 20))
    xs = np.linspace(-27, -15, 25)
    low, high = curve.band(xs)
    assert np.all((low >= 0) & (low <= curve.probability(xs)))
    assert np.all((high <= 1) & (high >= curve.probability(xs)))
    narrow_low, narrow_high = curve.band(xs, 0.5)
    assert np.all((narrow_low >= low - 1e-9) & (narrow_high <= high + 1e-9))


def test_points_are_sorted_and_checked():
    shuffled = Points(np.array([2.0, 1.0]), np.array([9, 3]), np.array([10, 11]))
    assert shuffled.values.tolist() == [1.0, 2.0]
    assert shuffled.share.tolist() == [3 / 11, 0.9]
    of = Points.of({2.0: Tally(9, 1, 4), 1.0: Tally(3, 8)}, unit="dB")
    assert of.n_scored.tolist() == [11, 10]
    bad = [
        ([1.0, 1.0], [0, 0], [1, 1], ValueError),
        ([1.0, np.nan], [0, 0], [1, 1], ValueError),
        ([1.0, 2.0], [2, 0], [1, 1], ValueError),
        ([1.0, 2.0], [-1, 0], [1, 1], ValueError),
        ([1.0, 2.0], [0], [1, 1], ValueError),
        ([1.0, 2.0], [0.0, 0.5], [1, 1], TypeError),
    ]
    for values, decoded, scored, error in bad:
        with pytest.raises(error):
            Points(np.array(values), np.array(decoded), np.array(scored))
    with pytest.raises(ValueError, match="scored"):
        _ = Points(np.array([1.0]), np.array([0]), np.array([0])).share


@pytest.mark.parametrize("p", [0.0, 1.0, -0.2])
def test_impossible_requests_are_refused(p):
    counts = points(0, 0, 1, 5, 11, 17, 20, 20, 20)
    with pytest.raises(ValueError, match="between 0 and 1"):
        read_threshold(counts, p=p)
    with pytest.raises(ValueError, match="between 0 and 1"):
        fit_curve(counts).threshold(p)
    with pytest.raises(ValueError, match="form"):
        fit_curve(counts, "cauchit")
    with pytest.raises(ValueError, match="max_lapse"):
        fit_curve(counts, max_lapse=1.0)
