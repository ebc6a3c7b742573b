"""Recording and twin heard by the receiver: thresholds of five kinds of noise."""

from pathlib import Path

import pytest

from solidcopy.reports.measured import Estimate
from twin_sweep import MIXTURES, compare_one

CHANCE_DB = 0.3
"""Added to the interval: five kinds at 95 % each miss once in five sweeps."""


@pytest.mark.sweep
@pytest.mark.derived
@pytest.mark.parametrize("name", MIXTURES)
def test_recording_and_twin_do_the_same_harm(name: str, tmp_path: Path) -> None:
    found = compare_one(tmp_path, name)
    print(f"\n{name}: {found.text()}")
    assert found.is_finished and isinstance(found.apart, Estimate)
    interval = found.apart.interval
    assert interval.low - CHANCE_DB <= 0.0 <= interval.high + CHANCE_DB
