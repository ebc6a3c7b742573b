"""What stretches of a recording do to a threshold and its interval."""

import numpy as np
import pytest

from solidcopy.statistics.evidence import Interval, NoEvidence
from solidcopy.statistics.stretches import (
    LEAST_STRETCHES,
    StretchedSide,
    StretchError,
    stretch_error,
    widened,
)

VALUES_DB = np.arange(-24.0, -15.0)


def side(midpoints: np.ndarray, seed: int, n_at: int = 60) -> StretchedSide:
    """Trials of a curve whose midpoint differs from stretch to stretch; slope of 1 dB."""
    generator = np.random.default_rng(np.random.SeedSequence(seed))
    values = np.repeat(VALUES_DB, n_at)
    stretches = generator.integers(midpoints.size, size=values.size)
    luck = generator.standard_normal(values.size)
    return StretchedSide(values, luck < values - midpoints[stretches], stretches)


@pytest.mark.derived
def test_unlike_stretches_scatter_as_their_thresholds_do() -> None:
    # Eight stretches 2 dB either way: the mean of eight has a standard error of 2 * sqrt(8/7) /
    # sqrt(8) = 0.76 dB. The mixed curve is wider, so the median moves less steadily than a mean.
    found = stretch_error(None, side(np.tile([-22.0, -18.0], 4), 3), n_stretches=8, p=0.5)
    assert isinstance(found, StretchError)
    assert 0.5 < found.standard_error < 1.2


@pytest.mark.derived
def test_alike_stretches_leave_the_chance_of_single_trials() -> None:
    # 540 trials about a slope of 1 dB: the standard error of a threshold is about
    # sqrt(step * pi^0.5 / n_at) = sqrt(1 * 1.77 / 60) = 0.17 dB at most; a jackknife on 12 has its
    # own scatter of a factor 1.3.
    found = stretch_error(None, side(np.full(12, -20.0), 4), n_stretches=12, p=0.5)
    assert isinstance(found, StretchError)
    assert 0.05 < found.standard_error < 0.25


@pytest.mark.derived
def test_two_sides_in_the_same_stretches_share_their_luck() -> None:
    midpoints = np.tile([-22.0, -18.0], 4)
    here, there = side(midpoints, 5), side(midpoints + 1.0, 6)
    alone = stretch_error(None, there, n_stretches=8, p=0.5)
    both = stretch_error(here, there, n_stretches=8, p=0.5)
    assert isinstance(alone, StretchError) and isinstance(both, StretchError)
    assert both.standard_error < alone.standard_error


@pytest.mark.derived
def test_few_stretches_say_nothing() -> None:
    found = stretch_error(None, side(np.full(4, -20.0), 7), n_stretches=LEAST_STRETCHES - 1, p=0.5)
    assert isinstance(found, NoEvidence) and "too few" in found.reason


@pytest.mark.authority
def test_half_width_is_students() -> None:
    # Student's t, 97.5 %, 7 degrees of freedom: 2.365 (any table).
    assert StretchError(1.0, 8).half_width(0.95) == pytest.approx(2.365, abs=0.0005)


@pytest.mark.derived
def test_only_what_goes_beyond_is_added() -> None:
    interval = Interval(-0.5, 0.5, 0.95, "profile likelihood")
    assert widened(interval, 0.0, StretchError(0.1, 8), own_half=0.5) is interval
    wide = widened(interval, 0.0, StretchError(1.0, 8), own_half=0.5)
    # Nothing of the interval is the recording's: sqrt(0.5^2 + 2.365^2 - 0.5^2) = 2.365.
    assert wide.high == pytest.approx(2.365, abs=0.001) and wide.low == -wide.high
    assert "stretches" in wide.method
