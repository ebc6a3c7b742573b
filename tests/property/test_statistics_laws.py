"""Laws of tallies, fits and thresholds, for any counts."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.interval import clopper_pearson, wilson
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import shape_of
from solidcopy.statistics.tally import Tally
from solidcopy.statistics.threshold import Threshold, read_threshold

few = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
forms = st.sampled_from(["probit", "logit", "outage"])


@st.composite
def tallies(draw):
    n_decoded, n_missed, n_failed = (draw(st.integers(0, 500)) for _ in range(3))
    n_false_trials = draw(st.integers(0, min(5, n_decoded + n_missed)))
    extra = draw(st.integers(0, 3)) if n_false_trials else 0
    return Tally(n_decoded, n_missed, n_failed, n_false_trials, n_false_trials + extra)


@st.composite
def any_points(draw):
    n_points = draw(st.integers(2, 8))
    values = draw(st.lists(st.integers(-60, 20), min_size=n_points, max_size=n_points, unique=True))
    scored = [draw(st.integers(1, 40)) for _ in values]
    decoded = [draw(st.integers(0, n)) for n in scored]
    return Points(np.array(values) / 2.0, np.array(decoded), np.array(scored))


@given(tallies(), tallies(), tallies())
def test_tallies_add_in_any_order(a, b, c):
    assert (a + b) + c == c + (b + a)
    assert (a + b).n_trials == a.n_trials + b.n_trials


@given(st.integers(1, 3000), st.data(), st.floats(0.5, 0.999))
def test_intervals_hold_the_share_and_mirror(n, data, confidence):
    k = data.draw(st.integers(0, n))
    for method in (wilson, clopper_pearson):
        found, mirrored = method(k, n, confidence), method(n - k, n, confidence)
        assert 0.0 <= found.low <= k / n <= found.high <= 1.0
        assert found.low == pytest.approx(1.0 - mirrored.high, abs=1e-12)


@few
@given(any_points(), forms, st.sampled_from([0.1, 0.5, 0.9]))
def test_every_set_of_counts_has_one_clean_answer(points, form, p):
    """Never NaN, never an interval without its estimate, always a sentence."""
    found = read_threshold(points, p=p, form=form)
    if isinstance(found, NoThreshold):
        assert len(found.reason) > 20
        assert (found.bound is None) == (found.limit is None)
        assert found.limit is None or np.isfinite(found.limit)
        return
    assert found.interval.low <= found.value <= found.interval.high
    steps = np.diff(points.values)
    assert found.interval.low >= points.values[0] - steps[0]
    assert found.interval.high <= points.values[-1] + steps[-1]


@few
@given(any_points(), forms, st.floats(-50, 50), st.floats(0.1, 20))
def test_thresholds_move_and_stretch_with_the_axis(points, form, offset, factor):
    other = Points(points.values * factor + offset, points.n_decoded, points.n_scored)
    found, moved = read_threshold(points, form=form), read_threshold(other, form=form)
    assert type(found) is type(moved)
    if isinstance(found, Threshold):
        gap = float(np.diff(points.values).min())
        for own, of_other in (
            (found.value, moved.value),
            (found.interval.low, moved.interval.low),
            (found.interval.high, moved.interval.high),
        ):
            # The ends are searched to 1/3000 of a step, the estimate to the fit's own accuracy.
            assert (of_other - offset) / factor == pytest.approx(own, abs=0.01 * gap)


@few
@given(any_points())
def test_more_confidence_is_never_shorter(points):
    narrow = read_threshold(points, confidence=0.8)
    wide = read_threshold(points, confidence=0.99)
    if isinstance(wide, Threshold):
        assert isinstance(narrow, Threshold)
        assert wide.interval.low <= narrow.interval.low
        assert narrow.interval.high <= wide.interval.high


@few
@given(
    forms,
    st.floats(-22.0, -20.0),
    st.floats(0.5, 1.5),
    st.floats(0.0, 0.08),
)
def test_a_known_curve_is_recovered(form, midpoint, scale, lapse):
    """Counts set to their expectation give the curve back."""
    values, n = np.arange(-32.0, -6.0, 0.5), 1_000_000
    shape = shape_of(form)
    p = (1.0 - lapse) * shape.evaluate(shape.clipped((values - midpoint) / scale))[0]
    points = Points(values, np.rint(n * p).astype(int), np.full(values.size, n))
    curve = fit_curve(points, form)
    assert isinstance(curve, Curve)
    # Rounding moves each count by up to half a decode in a million.
    assert curve.midpoint == pytest.approx(midpoint, abs=1e-3)
    assert curve.scale == pytest.approx(scale, rel=1e-3)
    assert curve.lapse == pytest.approx(lapse, abs=1e-5)
