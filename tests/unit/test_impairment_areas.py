"""Outlines must hold what they outline: measured on the samples. All derived here."""

import itertools

import numpy as np
import pytest

from solidcopy.impairments.area import during, joined, lines
from solidcopy.impairments.cards import CARDS
from solidcopy.impairments.catalogue import is_added
from solidcopy.impairments.impairment import Scene
from solidcopy.signals.power import power_spectrum
from solidcopy.trials.condition import Condition

RATE_HZ, SLOT_S = 12_000, 15.0
SCENE = Scene(RATE_HZ, round(RATE_HZ * SLOT_S), wanted_audio_hz=1500.0, wanted_width_hz=50.0)
EQUAL = {"signal_to_interference_db": 0.0}
EXAMPLES = {kind: card.example for kind, card in CARDS.items() if kind != "recording"} | {
    "carrier steady": {"kind": "carrier", "offset_hz": -200.0, **EQUAL},
    "carrier with pauses": {
        "kind": "carrier",
        "offset_hz": -200.0,
        "gate": {"on_s": 2.0, "off_s": 3.0},
        **EQUAL,
    },
    "carrier keyed hard": {
        "kind": "carrier",
        "audio_hz": 900.0,
        "keying": {"kind": "morse", "text": "TEST Q1ABC", "speed_wpm": 30.0, "edge_ms": 0.0},
        **EQUAL,
    },
    "clicks": {"kind": "impulses", "rate_per_s": 3.0, "timing": "periodic", **EQUAL},
    "bursts": {
        "kind": "impulses",
        "rate_per_s": 2.0,
        "timing": "random",
        "pulse": {"kind": "burst", "length_ms": 20.0},
        **EQUAL,
    },
    "fence": {"kind": "impulse-sources", "sources": [{"kind": "electric-fence"}], **EQUAL},
    "slow sweep": {
        "kind": "sweeping-carrier",
        "from_hz": 300.0,
        "to_hz": 900.0,
        "sweep_hz_per_s": 20.0,
        "pause_s": 4.0,
        **EQUAL,
    },
    "ft4 station": {"kind": "slot-station", "mode": "ft4", "audio_hz": 2000.0, **EQUAL},
}
LEAST = {"lightning-static": 0.8}
"""Its murmur, a tenth, is there all the time."""


def made(name):
    fields = EXAMPLES[name]
    condition = Condition.model_validate({"name": "a", "impairments": [{"kind": name, **fields}]})
    (impairment,) = condition.impairments
    return impairment.synthesise(SCENE, np.random.default_rng(5)) if is_added(impairment) else None


def share_within(disturbance):
    """Share of the power within the outlines, each instant cut out and looked at by itself."""
    areas = disturbance.areas
    edges = sorted({0.0, SLOT_S, *(a.from_s for a in areas), *(a.to_s for a in areas)})
    inside = 0.0
    for start, stop in itertools.pairwise(edges):
        piece = disturbance.samples[round(start * RATE_HZ) : round(stop * RATE_HZ)]
        open_now = [a for a in areas if a.from_s <= start and a.to_s >= stop]
        if piece.size == 0 or not open_now:
            continue
        spectrum = power_spectrum(piece, sample_rate_hz=RATE_HZ)
        bands = np.clip([(a.low_hz, a.high_hz) for a in open_now], 0.0, RATE_HZ / 2)
        at_hz = np.arange(spectrum.bin_powers.size) * spectrum.bin_hz
        half = spectrum.bin_hz / 2
        within = [(at_hz > low - half) & (at_hz < high + half) for low, high in bands]
        is_in = np.any(within, axis=0)
        inside += float(spectrum.bin_powers[is_in].sum()) * piece.size
    return inside / float(np.square(disturbance.samples).sum())


@pytest.mark.derived
@pytest.mark.parametrize("name", [name for name in EXAMPLES if made(name) is not None])
def test_outlines_hold_most_of_the_power(name):
    disturbance = made(name)
    if disturbance.areas is None:
        low, high = disturbance.occupied_hz
        spectrum = power_spectrum(disturbance.samples, sample_rate_hz=RATE_HZ)
        share = spectrum.band_power(max(low, 0.0), min(high, RATE_HZ / 2)) / float(
            np.square(disturbance.samples).mean()
        )
        assert share > 0.9
        return
    assert share_within(disturbance) > LEAST.get(name, 0.9)
    covered = sum((a.to_s - a.from_s) * (a.high_hz - a.low_hz) for a in disturbance.areas)
    assert covered < 0.6 * SLOT_S * 3000.0, "an outline that says nothing"


@pytest.mark.parametrize(
    "name",
    ["carrier", "carrier with pauses", "clicks", "bursts", "fence", "slow sweep", "ft4 station"],
)
def test_who_has_a_place_says_so(name):
    assert made(name).areas


def test_times_are_joined_cut_and_counted():
    assert joined([(3.0, 4.0), (0.0, 1.0), (0.5, 2.0)]).tolist() == [[0.0, 2.0], [3.0, 4.0]]
    (area,) = during([(-1.0, 0.5), (20.0, 21.0)], (100.0, 200.0), slot_s=15.0)
    assert (area.from_s, area.to_s) == (0.0, 0.5)
    assert during([(0.0, 14.0)], (100.0, 200.0), slot_s=15.0) is None
    many = [(i / 100, i / 100 + 0.001) for i in range(1000)]
    assert during(many, (0.0, 1.0), slot_s=15.0) is None
    assert during([], (100.0, 200.0), slot_s=15.0) == ()
    assert len(lines([100.0, 200.0], 10.0, slot_s=15.0)) == 2
    assert lines([100.0, 110.0], 10.0, slot_s=15.0) is None
