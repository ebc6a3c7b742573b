"""Rates of the health report: false alarms of every check, and hits on planted faults."""

from collections import Counter

import pytest

from health_sweep import false_alarms, hits

pytestmark = [pytest.mark.sweep, pytest.mark.derived]

N_CLEAN = 240
N_PLANTED = 60
TRUE_OF_CLEAN = frozenset({"too-faint"})
"""Faint sound between the pulses of a fence, in 8 bits, is a fact and no false alarm."""


def test_false_alarms_are_one_in_a_hundred(tmp_path) -> None:
    alarms: Counter[str] = Counter()
    for _, kinds in false_alarms(N_CLEAN, 11, tmp_path):
        alarms.update(kinds - TRUE_OF_CLEAN)
    # Three of 240: were the rate 1 %, four or more would come with a chance of 0.2 (Poisson).
    assert max(alarms.values(), default=0) <= 3, alarms


@pytest.mark.parametrize(
    ("kind", "size", "least"),
    [
        ("clipped", "0.1 % of samples", 0.9),
        ("gaps", "25 ms of zeros", 0.95),
        ("repeated", "512 samples", 0.95),
        ("offset", "1 dB", 0.95),
        ("hum", "1 % of power", 0.7),
        ("once-lossy", "MP3, middle", 0.5),
        ("once-lossy", "Vorbis, middle", 0.8),
    ],
)
def test_planted_faults_are_found(tmp_path, kind: str, size: str, least: float) -> None:
    tries, found = hits(kind, size, N_PLANTED, 12, tmp_path)
    assert found.total() >= least * tries.total(), (tries, found)
