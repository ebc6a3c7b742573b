"""Recording and twin heard by the receiver: thresholds of five kinds of noise."""

from pathlib import Path

import pytest
from scipy import special

from solidcopy.reports.measured import Estimate
from twin_sweep import MIXTURES, compare_one

LONGER = float(special.ndtri(0.995) / special.ndtri(0.975))
"""Of an interval of 99 % against one of 95 %: five kinds are judged, and together they shall miss
once in twenty sweeps (Bonferroni)."""


@pytest.mark.sweep
@pytest.mark.derived
@pytest.mark.parametrize("name", MIXTURES)
def test_recording_and_twin_do_the_same_harm(name: str, tmp_path: Path) -> None:
    found = compare_one(tmp_path, name)
    print(f"\n{name}: {found.text()}")
    assert found.is_finished and isinstance(found.apart, Estimate)
    value, interval = found.apart.value, found.apart.interval
    low, high = (value + LONGER * (end - value) for end in (interval.low, interval.high))
    assert low <= 0.0 <= high
