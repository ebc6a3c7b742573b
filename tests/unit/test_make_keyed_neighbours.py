"""Keyed neighbours in whole trials: asked and got at levels, places, rates and seeds."""

import math

import pytest

from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.trial import SENT, Trial

NEIGHBOURS = {
    "Morse, random groups": {"kind": "carrier", "keying": {"text": "random", "speed_wpm": 28.0}},
    "Morse, hard edges": {"kind": "carrier", "keying": {"text": "random", "edge_ms": 0.0}},
    "carrier with pauses": {"kind": "carrier", "gate": {"on_s": 2.0, "off_s": 1.0}},
    "teleprinter": {"kind": "teleprinter"},
    "fast wide teleprinter": {
        "kind": "teleprinter",
        "speed_bd": 75.0,
        "shift_hz": 850.0,
        "stop_elements": 2.0,
        "text": "RYRYRY 599",
    },
    "teleprinter with pauses": {"kind": "teleprinter", "gate": {"on_s": 20.0, "off_s": 10.0}},
    "PSK31": {"kind": "psk31"},
    "PSK31 with pauses": {
        "kind": "psk31",
        "text": "CQ de Q1ABC",
        "gate": {"on_s": 5.0, "off_s": 5.0},
    },
    "32 tones": {"kind": "multi-tone"},
    "2 tones": {"kind": "multi-tone", "n_tones": 2, "width_hz": 250.0},
    "64 tones": {"kind": "multi-tone", "n_tones": 64, "width_hz": 2000.0},
    "8 tones with pauses": {
        "kind": "multi-tone",
        "n_tones": 8,
        "width_hz": 250.0,
        "gate": {"on_s": 0.5, "off_s": 0.7},
    },
}
PLACES = ({"audio_hz": 1250.0}, {"offset_hz": -200.5}, {"audio_hz": 1700.0})
LEVELS_DB = (-20.0, 0.0, 10.0, -7.3)
TOLERANCE_DB = 0.1


def difference_db(fields, rate_hz, seed):
    """Got less asked and drawn; NaN for a slot with nothing of it."""
    asked = {**fields, **PLACES[seed % 3], "signal_to_interference_db": LEVELS_DB[seed % 4]}
    condition = Condition.model_validate(
        {
            "name": "neighbour",
            "sending": {"audio_hz": 1500.0},
            "impairments": [{"kind": "gaussian-noise", "snr_db": -10.0}, asked],
        }
    )
    recording, _ = make(Trial("ft8", condition, rate_hz, None, Chance(seed, SENT, seed, 0.0)))
    reading = next(one for one in recording.readings.levels if one.name == fields["kind"])
    return reading.got_db - reading.asked_db - reading.drawn_db


@pytest.mark.derived
@pytest.mark.parametrize("name", NEIGHBOURS)
@pytest.mark.parametrize(("rate_hz", "seed"), [(8_000, 1), (12_000, 2), (48_000, 3)])
def test_asked_is_got(name, rate_hz, seed):
    got_db = difference_db(NEIGHBOURS[name], rate_hz, seed)
    assert math.isnan(got_db) or abs(got_db) < TOLERANCE_DB


@pytest.mark.sweep
@pytest.mark.derived
@pytest.mark.parametrize("name", NEIGHBOURS)
@pytest.mark.parametrize("rate_hz", [8_000, 12_000, 48_000])
def test_asked_is_got_with_many_seeds(name, rate_hz):
    got_db = [difference_db(NEIGHBOURS[name], rate_hz, seed) for seed in range(21)]
    there = [one for one in got_db if not math.isnan(one)]
    assert len(there) >= 10
    assert max(map(abs, there)) < TOLERANCE_DB
