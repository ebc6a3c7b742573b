"""`make validate`: what a receiver's own chain costs beside a strong neighbour and under impulses.

There is no outside figure for these: the direction is common practice (fast gain control is pumped
by a keyed neighbour; what is cut before the channel filter never rings in it), the dB are ours.
"""

import pytest
from swept_curves import SENDING, carried_out

from solidcopy.campaigns.journal import JournalReader
from solidcopy.statistics.comparison import Penalty, penalty
from solidcopy.statistics.threshold import Threshold, read_threshold

pytestmark = pytest.mark.sweep

TRIALS_PER_POINT = 50
INTERNAL_RATE_HZ = 48_000

NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}
FILTER = {"kind": "channel-filter", "low_hz": 200.0, "high_hz": 2900.0}
FAST = {"kind": "gain-control", "attack_ms": 2.0, "decay_db_per_s": 500.0}
MORSE = {
    "kind": "carrier",
    "offset_hz": 600.0,
    "interference_to_noise_db": 40.0,
    "keying": {"kind": "morse", "text": "random", "speed_wpm": 20.0},
}
STATION = {"kind": "slot-station", "offset_hz": 600.0, "interference_to_noise_db": 40.0}
FENCE = {
    "kind": "impulse-sources",
    "sources": [
        {"kind": "electric-fence", "pulse_ms": 1.0},
        {"kind": "ignition", "engine_rpm": 900},
    ],
    "low_hz": 200.0,
    "high_hz": 20_000.0,
    "interference_to_noise_db": 15.0,
}
LIMITER = {"kind": "wideband-limiter", "level_db": 9.0}
BLANKER = {"kind": "wideband-blanker", "threshold_db": 12.0, "hold_ms": 0.5}

CONDITIONS = {
    "quiet": [],
    "keyed neighbour": [MORSE],
    "keyed neighbour, fast gain control": [MORSE, FAST],
    "FT8 neighbour, fast gain control": [STATION, FAST],
    "impulses": [FENCE],
    "impulses, limiter": [FENCE, LIMITER],
    "impulses, blanker": [FENCE, BLANKER],
    "impulses, fast gain control": [FENCE, FAST],
    "impulses, limiter, fast gain control": [FENCE, LIMITER, FAST],
    "impulses, blanker, fast gain control": [FENCE, BLANKER, FAST],
}
"""All behind the same channel filter, and with the same noise."""


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory):
    conditions = [
        {
            "name": name,
            "sending": {**SENDING, "audio_hz": {"low": 600, "high": 1800}},
            "impairments": [NOISE, FILTER, *impairments],
        }
        for name, impairments in CONDITIONS.items()
    ]
    with carried_out(
        tmp_path_factory.mktemp("chain"),
        root_seed=41,
        axis={"start": -24.0, "stop": -7.5, "step": 1.5},
        audio={"internal_rate_hz": INTERNAL_RATE_HZ},
        conditions=conditions,
        stop={"trials_per_point": TRIALS_PER_POINT, "nothing_sent": 0},
    ) as reader:
        yield reader


def place(name: str) -> tuple[int, int]:
    return list(CONDITIONS).index(name), 0


def cost_db(journal: JournalReader, name: str, against: str) -> Penalty:
    found = penalty(journal.paired(place(against), place(name)))
    if isinstance(found, Penalty):
        low, high = found.interval.low, found.interval.high
        print(f"{name} against {against}: {found.value:+.2f} dB ({low:+.2f} to {high:+.2f})")
    else:
        print(f"{name} against {against}: {found}")
    assert isinstance(found, Penalty), found
    return found


def test_thresholds_are_printed(journal: JournalReader) -> None:
    for name in CONDITIONS:
        threshold = read_threshold(journal.points(*place(name)))
        print(f"{name}: 50 % at {threshold}")
        assert isinstance(threshold, Threshold), (name, threshold)


def test_fast_gain_control_is_pumped_by_a_keyed_neighbour(journal: JournalReader) -> None:
    cost_db(journal, "keyed neighbour", "quiet")
    pumped = cost_db(journal, "keyed neighbour, fast gain control", "keyed neighbour")
    cost_db(journal, "FT8 neighbour, fast gain control", "quiet")
    assert pumped.interval.low > 0.0


def test_what_an_early_limiter_or_blanker_gives_back(journal: JournalReader) -> None:
    cost_db(journal, "impulses", "quiet")
    cost_db(journal, "impulses, fast gain control", "impulses")
    for block in ("limiter", "blanker"):
        gained = cost_db(journal, f"impulses, {block}", "impulses")
        cost_db(journal, f"impulses, {block}, fast gain control", "impulses, fast gain control")
        assert gained.interval.high < 0.0
