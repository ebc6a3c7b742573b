"""Recordings with impulsive noise: each passes its own readings; asked and got, at every rate."""

import numpy as np
import pytest

from solidcopy.reports.describe import condition_facts
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.plan import parse_plan
from solidcopy.trials.trial import SENT, Trial

SOURCES = [
    {"kind": "electric-fence"},
    {"kind": "ignition", "engine_rpm": 2400.0, "relative_db": -3.0},
    {"kind": "motor", "speed_rpm": 3000.0},
    {"kind": "mains-arc", "relative_db": 3.0},
]
MEMBERS = {
    **{source["kind"]: {"kind": "impulse-sources", "sources": [source]} for source in SOURCES},
    "all sources": {"kind": "impulse-sources", "sources": SOURCES},
    "lightning": {"kind": "lightning-static"},
}
NOISES = {
    "class A, per sample": {
        "kind": "class-a-noise",
        "impulsive_index": 0.1,
        "gaussian_ratio": 0.01,
        "event_ms": 0.0,
    },
    "class A, slow": {
        "kind": "class-a-noise",
        "impulsive_index": 0.1,
        "gaussian_ratio": 0.01,
        "event_ms": 50.0,
    },
    "class A, very rare": {
        "kind": "class-a-noise",
        "impulsive_index": 0.001,
        "gaussian_ratio": 0.001,
        "event_ms": 10.0,
    },
    "Bernoulli-Gaussian": {
        "kind": "bernoulli-gaussian-noise",
        "p_impulse": 0.01,
        "impulse_to_background_db": 30.0,
        "burst_ms": 2.0,
    },
}
RATES_HZ = (8_000, 8_000, 12_000, 8_000, 8_000, 12_000, 48_000)
LEVELS_DB = (-20.0, 0.0, 12.0)
GAUSSIAN = {"kind": "gaussian-noise", "snr_db": -10.0}


def recording(impairments, seed, rate_hz):
    condition = Condition.model_validate({"name": "one", "impairments": impairments})
    return make(Trial("ft8", condition, rate_hz, None, Chance(seed, SENT, seed, 0.0)))[0]


def levels(made):
    return {reading.name: reading for reading in made.readings.levels}


@pytest.mark.derived
@pytest.mark.parametrize("name", MEMBERS)
def test_ratios_are_met_in_every_slot(name):
    """`make` itself refuses a difference that neither the draws nor chance explain."""
    for seed in range(21):
        quantity = ("signal_to_interference_db", "interference_to_noise_db")[seed % 2]
        member = {**MEMBERS[name], quantity: LEVELS_DB[seed % 3]}
        made = recording([GAUSSIAN, member], seed, RATES_HZ[seed % 7])
        reading = levels(made)[member["kind"]]
        assert reading.asked_db == LEVELS_DB[seed % 3]
        if np.isfinite(reading.drawn_db):
            assert abs(reading.got_db - reading.asked_db - reading.drawn_db) < 1.0
        assert made.readings.n_clipped == 0


@pytest.mark.derived
@pytest.mark.parametrize("name", NOISES)
def test_noise_is_met_in_every_slot(name):
    for seed in range(21):
        snr_db = LEVELS_DB[seed % 3]
        member = {**NOISES[name], "snr_db": snr_db}
        # A carrier stated against it refers to its expected power, not to this slot's.
        carrier = {"kind": "carrier", "offset_hz": 100.0, "interference_to_noise_db": 3.0}
        made = recording([member, carrier], seed, RATES_HZ[seed % 7])
        reading = levels(made)[member["kind"]]
        assert reading.quantity == "SNR in 2500 Hz"
        # One event of 10 ms holds 25 independent values of 2500 Hz: 4.5 / sqrt(25) is 4.3 dB.
        limit_db = 4.3 if name == "class A, very rare" else 1.0
        assert abs(reading.got_db - snr_db - reading.drawn_db) < limit_db
        assert levels(made)["carrier"].asked_db == 3.0


@pytest.mark.parametrize("member", [*MEMBERS.values(), *NOISES.values()])
def test_reports_put_every_number_into_words(member):
    level = "snr_db" if "noise" in member["kind"] else "signal_to_interference_db"
    plan = parse_plan(
        {
            "mode": "ft8",
            "root_seed": 1,
            "axis": {"values": [-20.0, -10.0, 0.0]},
            "stop": {"trials_per_point": 20},
            "conditions": [{"name": "one", "impairments": [{**member, level: "axis"}]}],
            "receivers": [{"kind": "builtin", "name": "ours"}],
        }
    )
    facts = condition_facts(plan, plan.conditions[0])
    text = repr(facts)
    for source in member.get("sources", []):
        assert source["kind"].replace("-", " ") in text
    assert "swept: the axis of this campaign" in text
