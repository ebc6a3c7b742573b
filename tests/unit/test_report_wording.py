"""Numbers in words."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import (
    about,
    counted,
    decimals_for,
    duration,
    glued,
    listed,
    number,
    places_of,
    plain,
    shares_as_percent,
    signed,
    small_percent,
    whole,
)
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.statistics.points import Points
from solidcopy.statistics.threshold import read_threshold


@pytest.mark.derived
@pytest.mark.parametrize(
    ("half_width", "places"),
    [(50.0, 0), (10.0, 0), (5.0, 1), (1.9, 1), (0.4, 1), (0.1, 1), (0.04, 2), (0.004, 3), (0.0, 1)],
)
def test_decimals_follow_the_evidence(half_width: float, places: int) -> None:
    assert decimals_for(half_width) == places


@given(st.floats(-30, 30), st.floats(0.001, 10))
def test_no_end_but_zero_is_printed_as_zero(middle: float, half_width: float) -> None:
    interval = Interval(middle - half_width, middle + half_width, 0.95, "a test")
    places = places_of(interval)
    for end in (interval.low, interval.high):
        if abs(end) >= 0.0005:
            assert float(f"{end:.{places}f}") != 0.0


@pytest.mark.derived
def test_minus_signs_are_true_and_zero_has_none() -> None:
    assert number(-21.34, 1) == "−21.3"
    assert number(-0.04, 1) == "0.0"
    assert signed(0.04, 1) == "0.0"
    assert signed(4.1, 1) == "+4.1"
    assert plain(-0.0) == "0"
    assert plain(-21.5) == "−21.5"


@pytest.mark.derived
def test_estimates_in_tables() -> None:
    estimate = Estimate(4.12, Interval(3.71, 4.49, 0.95, "a test"))
    assert signed_estimate(estimate) == "+4.1 (+3.7 to +4.5)"
    assert unsigned_estimate(estimate) == "4.1 (3.7 to 4.5)"


@pytest.mark.derived
@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.032, "32 ms"),
        (0.5, "0.5 seconds"),
        (1.0, "1 second"),
        (45.0, "45 seconds"),
        (540.0, "9 minutes"),
        (7200.0, "2.0 hours"),
        (200_000.0, "2.3 days"),
    ],
)
def test_durations(seconds: float, text: str) -> None:
    assert duration(seconds) == text


@pytest.mark.derived
def test_counts() -> None:
    assert counted(1, "trial") == "1 trial"
    assert counted(1200, "trial") == "1200 trials"
    assert whole(12_345) == "12\u202f345"
    assert about(1234) == "1200"
    assert about(7) == "7"
    assert about(98_765) == "99\u202f000"


@pytest.mark.derived
def test_small_shares_keep_two_digits() -> None:
    assert small_percent(0.004538) == "0.45 %"
    assert small_percent(0.139) == "14 %"
    assert small_percent(1.0) == "100 %"
    assert small_percent(0.0) == "0 %"


@pytest.mark.derived
def test_lists_and_units() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert glued("4.1 dB more (95 %: 3 to 4)") == "4.1\u00a0dB more (95\u00a0%: 3 to 4)"
    assert glued("1 dBFS, 2 Hz, 3 slots") == "1\u00a0dBFS, 2\u00a0Hz, 3 slots"


@pytest.mark.derived
@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (
            "0.5 was never reached: highest 0.2 at −14 dB; add higher values",
            "50 % was never reached: highest 20 % at −14 dB; add higher values",
        ),
        (
            "side b: never below 0.5: lowest 0.67 at 0 dB; add lower values",
            "side b: never below 50 %: lowest 67 % at 0 dB; add lower values",
        ),
        (
            "the trials do not bound the 0.9 point on the lower side: add trials or values there",
            "the trials do not bound the 90 % point on the lower side: add trials or values there",
        ),
        (
            "the fitted curve levels off at 0.853 and never reaches 0.9",
            "the fitted curve levels off at 85.3 % and never reaches 90 %",
        ),
        (
            "no message was decoded (0 of 30), even at 1 dB: add higher values",
            "no message was decoded (0 of 30), even at 1 dB: add higher values",
        ),
    ],
)
def test_reasons_speak_of_per_cent(reason: str, said: str) -> None:
    assert shares_as_percent(reason) == said


@pytest.mark.derived
def test_real_reasons_hold_no_bare_share() -> None:
    counts = np.array([1, 2, 3])
    points = Points(np.array([-3.0, -2.0, -1.0]), counts, np.array([30, 30, 30]), "dB")
    found = read_threshold(points, p=0.5)
    assert isinstance(found, NoThreshold)
    assert "0.5" in found.reason
    assert "0.5" not in shares_as_percent(found.reason)
    assert "50 %" in shares_as_percent(found.reason)
