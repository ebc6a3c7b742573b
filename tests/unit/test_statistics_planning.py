"""How many trials, and the threshold without a curve."""

import numpy as np
import pytest

from solidcopy.statistics.planning import more_trials_needed, trials_for_half_width
from solidcopy.statistics.points import Points
from solidcopy.statistics.spearman_karber import spearman_karber


@pytest.mark.authority
@pytest.mark.parametrize(("standard_error", "n"), [(0.141, 20), (0.089, 50), (0.063, 100)])
def test_planning_table(standard_error, n):
    # FACTS E5 (s = 0.7, d = 1 dB), rounded to 1 mdB there: n within 2 %.
    needed = trials_for_half_width(0.7, 1.0, 1.959964 * standard_error)
    assert needed == pytest.approx(n, rel=0.02, abs=1)
    halved_step = trials_for_half_width(0.7, 0.5, 1.959964 * standard_error)
    assert halved_step == pytest.approx(needed / 2, abs=1)


@pytest.mark.derived
def test_more_trials():
    assert more_trials_needed(0.2, 100, 0.1) == 300
    assert more_trials_needed(0.1, 100, 0.2) == 0
    assert more_trials_needed(0.1, 100, 0.1) == 0
    assert more_trials_needed(0.11, 50, 0.1) == 11


@pytest.mark.derived
def test_spearman_karber_by_hand():
    # One step from 0 to 1 through a half: the middle point, SE = √(0.25/3) · 1.
    points = Points(np.array([1.0, 2.0, 3.0]), np.array([0, 2, 4]), np.array([4, 4, 4]))
    mean, standard_error = spearman_karber(points)
    assert mean == 2.0
    assert standard_error == pytest.approx(np.sqrt(0.25 / 3))


def test_impossible_requests_are_refused():
    for numbers in ((0.0, 1.0, 0.1), (1.0, -1.0, 0.1), (1.0, 1.0, 0.0)):
        with pytest.raises(ValueError, match="positive"):
            trials_for_half_width(*numbers)
    with pytest.raises(ValueError, match="impossible"):
        more_trials_needed(0.1, 0, 0.1)
    cut = Points(np.array([1.0, 2.0, 3.0]), np.array([1, 2, 4]), np.array([4, 4, 4]))
    with pytest.raises(ValueError, match="start at 0"):
        spearman_karber(cut)
