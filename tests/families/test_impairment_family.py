"""Laws that every added impairment keeps. A new one joins by one line in MEMBERS."""

import json
import math

import numpy as np
import pytest
from pydantic import TypeAdapter, ValidationError

from solidcopy import units
from solidcopy.errors import PlanError
from solidcopy.impairments.catalogue import AnyImpairment
from solidcopy.impairments.impairment import Scene
from solidcopy.signals import power
from solidcopy.signals.audio_file import write_audio
from solidcopy.trials.readings import NOISE_BAND_HZ, chance_limits_db

N_SLOTS = 80
SLOT_S = 4.0

MEMBERS = {
    "gaussian-noise": {"kind": "gaussian-noise", "snr_db": 0.0},
    "carrier": {"kind": "carrier", "audio_hz": 900.0, "signal_to_interference_db": 0.0},
    "carrier beside": {"kind": "carrier", "offset_hz": -60.0, "interference_to_noise_db": 3.0},
    "keyed carrier": {
        "kind": "carrier",
        "audio_hz": 700.0,
        "signal_to_interference_db": 0.0,
        "keying": {"kind": "morse", "text": "TEST Q1ABC", "speed_wpm": 25.0, "edge_ms": 5.0},
    },
    "band-noise": {
        "kind": "band-noise",
        "centre_hz": 1200.0,
        "width_hz": 300.0,
        "skirt_hz": 30.0,
        "signal_to_interference_db": 0.0,
    },
    "random clicks": {
        "kind": "impulses",
        "rate_per_s": 30.0,
        "timing": "random",
        "low_hz": 250.0,
        "high_hz": 2800.0,
        "signal_to_interference_db": 0.0,
    },
    "periodic rings": {
        "kind": "impulses",
        "rate_per_s": 100.0,
        "timing": "periodic",
        "phase": "same",
        "pulse": {"kind": "ring", "ring_hz": 800.0, "decay_ms": 6.0},
        "signal_to_interference_db": 0.0,
    },
    "jittered clicks": {
        "kind": "impulses",
        "rate_per_s": 2.3,
        "timing": "jittered",
        "jitter_ms": 20.0,
        "phase": "alternating",
        "signal_to_interference_db": 0.0,
    },
    "crowded rings": {
        "kind": "impulses",
        "rate_per_s": 400.0,
        "timing": "random",
        "phase": "same",
        "pulse": {"kind": "ring", "ring_hz": 500.0, "decay_ms": 10.0},
        "signal_to_interference_db": 0.0,
    },
    "bursts": {
        "kind": "impulses",
        "rate_per_s": 5.0,
        "timing": "random",
        "pulse": {"kind": "burst", "length_ms": 40.0, "edge_ms": 2.0},
        "signal_to_interference_db": 0.0,
    },
    "announcer": {
        "kind": "amplitude-modulated-station",
        "audio_hz": 1000.0,
        "depth_percent": 80.0,
        "signal_to_interference_db": 0.0,
    },
    "music station": {
        "kind": "amplitude-modulated-station",
        "offset_hz": 200.0,
        "programme": "music",
        "signal_to_interference_db": 0.0,
    },
    "carrier swung by a tone": {
        "kind": "frequency-modulated-carrier",
        "audio_hz": 1500.0,
        "modulating_hz": 50.0,
        "deviation_hz": 120.0,
        "signal_to_interference_db": 0.0,
    },
    "carrier swung by noise": {
        "kind": "frequency-modulated-carrier",
        "audio_hz": 1500.0,
        "modulation": "noise",
        "modulating_hz": 30.0,
        "deviation_hz": 80.0,
        "signal_to_interference_db": 0.0,
    },
    "upper sideband": {
        "kind": "speech-sideband",
        "audio_hz": -200.0,
        "signal_to_interference_db": 0.0,
    },
    "lower sideband": {
        "kind": "speech-sideband",
        "offset_hz": 1500.0,
        "sideband": "lower",
        "signal_to_interference_db": 0.0,
    },
    "saw-tooth sweep": {
        "kind": "sweeping-carrier",
        "from_hz": 2500.0,
        "to_hz": 400.0,
        "sweep_hz_per_s": 3000.0,
        "pause_s": 0.4,
        "signal_to_interference_db": 0.0,
    },
    "single sweep": {
        "kind": "sweeping-carrier",
        "from_hz": 400.0,
        "to_hz": 2500.0,
        "sweep_hz_per_s": 200.0,
        "pattern": "single",
        "signal_to_interference_db": 0.0,
    },
    "hum": {"kind": "mains-hum", "wander_hz": 0.05, "signal_to_interference_db": 0.0},
    "buzz": {
        "kind": "mains-hum",
        "mains_hz": 60.0,
        "sound": "buzz",
        "harmonics": "even",
        "fall_db_per_octave": 3.0,
        "signal_to_interference_db": 0.0,
    },
    "comb of lines": {
        "kind": "line-comb",
        "audio_hz": 400.0,
        "spacing_hz": 125.0,
        "n_lines": 12,
        "slope_db_per_line": -1.0,
        "drift_hz_per_s": 4.0,
        "wander_hz": 1.0,
        "signal_to_interference_db": 0.0,
    },
    "hump": {
        "kind": "switch-mode-hump",
        "offset_hz": 100.0,
        "width_hz": 150.0,
        "drift_hz_per_s": 20.0,
        "wander_hz": 10.0,
        "signal_to_interference_db": 0.0,
    },
    "class A, per sample": {
        "kind": "class-a-noise",
        "impulsive_index": 0.1,
        "gaussian_ratio": 0.1,
        "event_ms": 0.0,
        "snr_db": 0.0,
    },
    "class A, slow": {
        "kind": "class-a-noise",
        "impulsive_index": 0.35,
        "gaussian_ratio": 0.01,
        "event_ms": 20.0,
        "snr_db": 0.0,
    },
    "Bernoulli-Gaussian bursts": {
        "kind": "bernoulli-gaussian-noise",
        "p_impulse": 0.1,
        "impulse_to_background_db": 20.0,
        "burst_ms": 3.0,
        "snr_db": 0.0,
    },
    "hard keyed carrier": {
        "kind": "carrier",
        "audio_hz": 700.0,
        "signal_to_interference_db": 0.0,
        "keying": {"text": "random", "edge_ms": 0.0},
    },
    "carrier with pauses": {
        "kind": "carrier",
        "audio_hz": 700.0,
        "signal_to_interference_db": 0.0,
        "gate": {"on_s": 1.5, "off_s": 1.25},
    },
    "teleprinter": {"kind": "teleprinter", "audio_hz": 1100.0, "signal_to_interference_db": 0.0},
    "teleprinter in turns": {
        "kind": "teleprinter",
        "offset_hz": 300.0,
        "speed_bd": 75.0,
        "shift_hz": 850.0,
        "text": "THE QUICK BROWN FOX 599",
        "interference_to_noise_db": 0.0,
        "gate": {"on_s": 2.0, "off_s": 1.0},
    },
    "PSK31": {"kind": "psk31", "audio_hz": 1100.0, "signal_to_interference_db": 0.0},
    "PSK31 in turns": {
        "kind": "psk31",
        "audio_hz": 300.0,
        "text": "CQ de Q1ABC",
        "signal_to_interference_db": 0.0,
        "gate": {"on_s": 3.0, "off_s": 2.0},
    },
    "multi-tone": {"kind": "multi-tone", "audio_hz": 1100.0, "signal_to_interference_db": 0.0},
    "multi-tone in turns": {
        "kind": "multi-tone",
        "audio_hz": 1100.0,
        "n_tones": 8,
        "width_hz": 500.0,
        "signal_to_interference_db": 0.0,
        "gate": {"on_s": 1.0, "off_s": 0.6},
    },
    "a fence": {
        "kind": "impulse-sources",
        "sources": [{"kind": "electric-fence"}],
        "signal_to_interference_db": 0.0,
    },
    "an engine": {
        "kind": "impulse-sources",
        "sources": [{"kind": "ignition", "engine_rpm": 3000.0}],
        "signal_to_interference_db": 0.0,
    },
    "a motor": {
        "kind": "impulse-sources",
        "sources": [{"kind": "motor", "speed_rpm": 6000.0}],
        "signal_to_interference_db": 0.0,
    },
    "an arc": {
        "kind": "impulse-sources",
        "sources": [{"kind": "mains-arc", "arcing_s": 0.4, "quiet_s": 0.3}],
        "signal_to_interference_db": 0.0,
    },
    "several sources": {
        "kind": "impulse-sources",
        "sources": [
            {"kind": "electric-fence", "period_s": 0.8},
            {"kind": "ignition", "engine_rpm": 900.0, "relative_db": -3.0},
            {"kind": "mains-arc", "peaks": "one", "quiet_s": 0.0, "relative_db": 3.0},
        ],
        "signal_to_interference_db": 0.0,
    },
    "lightning": {
        "kind": "lightning-static",
        "flashes_per_s": 5.0,
        "flash_spread_db": 2.0,
        "signal_to_interference_db": 0.0,
    },
    "recording as noise": {"kind": "recording", "placement": "random", "snr_db": 0.0},
    "recording in a circle": {
        "kind": "recording",
        "placement": "loop",
        "signal_to_interference_db": 0.0,
    },
}

ADAPTER = TypeAdapter(AnyImpairment)


@pytest.fixture(scope="module")
def recording_file(tmp_path_factory):
    """Half a minute of noise that swells and fades, at 16 kHz."""
    generator = np.random.Generator(np.random.PCG64DXSM(5))
    time_s = np.arange(30 * 16_000) / 16_000
    swell = 1.0 + 0.5 * np.sin(2.0 * np.pi * time_s / 7.5)
    path = tmp_path_factory.mktemp("recordings") / "swell.wav"
    write_audio(path, 0.05 * swell * generator.standard_normal(time_s.size), sample_rate_hz=16_000)
    return path


@pytest.fixture(params=MEMBERS)
def member(request, recording_file):
    fields = dict(MEMBERS[request.param])
    if fields["kind"] == "recording":
        fields["file"] = str(recording_file)
    return ADAPTER.validate_python(fields)


def scene(rate_hz=8_000):
    return Scene(rate_hz, round(SLOT_S * rate_hz), 1500.0, 50.0)


def generator(seed):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def level_power(member, made, rate_hz):
    """Power in the quantity that the level refers to, by the spectrum or by the mean square."""
    if member.level().quantity == "snr":
        spectrum = power.power_spectrum(made.samples, sample_rate_hz=rate_hz)
        return spectrum.band_power(*NOISE_BAND_HZ)
    return power.mean_power(made.samples)


@pytest.mark.derived
def test_mean_power_is_the_stated_one_and_its_spread_too(member):
    ratios, drawn = [], []
    for seed in range(N_SLOTS):
        made = member.synthesise(scene(), generator(seed))
        ratios.append(level_power(member, made, 8_000) / made.reference_power)
        drawn.append(made.drawn.power_ratio)
    spread = units.ratio_from_db(made.spread_db) - 1.0
    # Mean: 4.5 standard errors and 0.3 % (0.013 dB) for leakage over the ends of a short slot.
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.003 + 4.5 * spread / math.sqrt(N_SLOTS))
    # Spread: a standard deviation of 80 values is within a third of the true one; for a few
    # impulses its own spread is wider, and a moving piece of a recording is not Gaussian.
    assert np.std(ratios) <= 1.6 * spread + 0.003
    assert np.std(ratios) >= 0.6 * spread - 0.003


@pytest.mark.derived
def test_draws_explain_each_slot(member):
    for seed in range(20):
        made = member.synthesise(scene(), generator(seed))
        expected = made.reference_power * made.drawn.power_ratio
        low_db, high_db = chance_limits_db(made.drawn.residual_spread_db)
        difference_db = units.db_from_ratio(level_power(member, made, 8_000) / expected)
        assert low_db - 0.03 <= difference_db <= high_db + 0.03


@pytest.mark.parametrize("rate_hz", [8_000, 12_000, 48_000])
def test_works_at_every_rate_within_its_band(member, rate_hz):
    made = member.synthesise(scene(rate_hz), generator(1))
    assert made.samples.shape == (round(SLOT_S * rate_hz),)
    assert made.samples.dtype == np.float64
    assert np.isfinite(made.samples).all()
    assert 0.0 < made.share_on <= 1.0
    assert made.reference_power > 0.0
    spectrum = power.power_spectrum(made.samples, sample_rate_hz=rate_hz)
    low_hz, high_hz = made.occupied_hz
    inside = spectrum.band_power(max(low_hz, 0.0), min(high_hz, rate_hz / 2.0))
    assert inside / power.mean_power(made.samples) > 0.99


def test_chance_comes_from_the_generator_alone(member):
    before = np.random.get_state()[1].copy()  # noqa: NPY002 - to see that nobody draws from it
    first = member.synthesise(scene(), generator(1))
    again = member.synthesise(scene(), generator(1))
    other = member.synthesise(scene(), generator(2))
    assert np.array_equal(first.samples, again.samples)
    assert not np.array_equal(first.samples, other.samples)
    assert np.array_equal(before, np.random.get_state()[1])  # noqa: NPY002


def test_caller_may_change_the_samples(member):
    member.synthesise(scene(), generator(1)).samples[:] = 7.0
    assert member.synthesise(scene(), generator(1)).samples.max() != 7.0


def test_json_round_trip(member):
    text = member.model_dump_json()
    assert ADAPTER.validate_json(text) == member
    json.dumps(member.identity(), allow_nan=False)


def changed_numbers(fields):
    """Copies of a dumped model with one number changed in each, to the names of these."""
    for name, value in fields.items():
        if isinstance(value, float | int) and not isinstance(value, bool):
            # A number below 1 may be a share, which must stay one.
            changed = value / 2 if 0 < value < 1 else value + 1
            if name == "n_tones":  # a power of two
                changed = value * 2
            yield name, {**fields, name: changed}
        elif isinstance(value, dict):
            for inner, copy in changed_numbers(value):
                yield f"{name}.{inner}", {**fields, name: copy}


def test_identity_changes_with_every_number_and_with_nothing_else(member):
    fields = member.model_dump()
    assert ADAPTER.validate_python(fields).identity() == member.identity()
    n_changed = 0
    for name, copy in changed_numbers(fields):
        assert ADAPTER.validate_python(copy).identity() != member.identity(), name
        n_changed += 1
    assert n_changed >= 1


def test_every_field_says_what_it_is(member):
    schema = type(member).model_json_schema()
    for model in (schema, *schema.get("$defs", {}).values()):
        for name, field in model.get("properties", {}).items():
            assert name == "kind" or "description" in field, name


def test_unknown_fields_and_not_a_number_are_refused(member):
    with pytest.raises(ValidationError):
        ADAPTER.validate_python({**member.model_dump(), "loudness": 3})
    level = next(name for name, value in member if name.endswith("_db") and value is not None)
    with pytest.raises(ValidationError):
        ADAPTER.validate_python({**member.model_dump(), level: math.nan})


def test_axis_must_be_filled_before_use(member):
    level = next(name for name, value in member if name.endswith("_db") and value is not None)
    swept = ADAPTER.validate_python({**member.model_dump(), level: "axis"})
    with pytest.raises(PlanError, match="a value on the axis must be chosen first"):
        swept.level()
