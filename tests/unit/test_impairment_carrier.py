"""Carriers and band noise: where they lie, how they are asked for."""

import numpy as np
import pytest
from pydantic import ValidationError

from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.band_noise import BandNoise
from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.impairment import Scene

SCENE = Scene(12_000, 60_000, 1500.0, 50.0)


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def frequency_of(samples, rate_hz=12_000):
    """By numpy's transform, interpolated between bins by the phase advance of two halves."""
    half = samples.size // 2
    window = np.hanning(half)
    first, second = (
        np.fft.rfft(part * window) for part in (samples[:half], samples[half : 2 * half])
    )
    place = int(np.argmax(np.abs(first)))
    advance = np.angle(second[place] / first[place]) / (2.0 * np.pi)
    cycles = round(place - advance) + advance
    return cycles * rate_hz / half


@pytest.mark.derived
@pytest.mark.parametrize(
    ("fields", "expected_hz"),
    [
        ({"audio_hz": 876.543}, 876.543),
        ({"offset_hz": 0.0}, 1500.0),  # on the lowest tone of the wanted signal
        ({"offset_hz": -612.25}, 887.75),
    ],
)
def test_carrier_lies_where_it_is_asked(fields, expected_hz):
    made = Carrier(signal_to_interference_db=0.0, **fields).synthesise(SCENE, generator())
    assert frequency_of(made.samples) == pytest.approx(expected_hz, abs=1e-3)


def test_carrier_phase_is_drawn():
    carrier = Carrier(audio_hz=1000.0, signal_to_interference_db=0.0)
    starts = np.array([carrier.synthesise(SCENE, generator(i)).samples[0] for i in range(50)])
    assert starts.min() < -0.8
    assert starts.max() > 0.8
    assert np.abs(starts).max() <= 1.0


@pytest.mark.parametrize("audio_hz", [5.0, 5990.0, -100.0])
def test_carrier_outside_the_sampled_band_is_an_error(audio_hz):
    carrier = Carrier(audio_hz=audio_hz, signal_to_interference_db=0.0)
    with pytest.raises(CalibrationError, match="may lie between 20 and 5980 Hz"):
        carrier.synthesise(SCENE, generator())


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({}, "exactly one of `audio_hz` or `offset_hz`, not 0"),
        ({"audio_hz": 1.0, "offset_hz": 1.0}, "exactly one of `audio_hz` or `offset_hz`, not 2"),
        ({"audio_hz": 1.0, "interference_to_noise_db": 1.0}, "exactly one of `signal_to_inter"),
    ],
)
def test_place_and_level_are_stated_once(fields, sentence):
    with pytest.raises(ValidationError, match=sentence):
        Carrier(signal_to_interference_db=0.0, **fields)


def test_zero_is_a_value_and_not_missing():
    assert Carrier(offset_hz=0.0, signal_to_interference_db=0.0).level().level_db == 0.0


def test_keyed_and_steady_carriers_are_read_from_plain_data():
    carrier = Carrier.model_validate(
        {"audio_hz": 700, "signal_to_interference_db": 1, "keying": {"text": "test"}}
    )
    assert carrier.keying is not None
    assert carrier.keying.text == "TEST"


@pytest.mark.derived
def test_band_noise_is_centred_on_the_middle_of_the_wanted_signal():
    noise = BandNoise(offset_hz=0.0, width_hz=200.0, signal_to_interference_db=0.0)
    made = noise.synthesise(SCENE, generator())
    assert made.occupied_hz == (1525.0 - 120.0, 1525.0 + 120.0)
    spectrum = np.abs(np.fft.rfft(made.samples)) ** 2
    centre_hz = np.average(np.fft.rfftfreq(60_000, 1 / 12_000), weights=spectrum)
    assert centre_hz == pytest.approx(1525.0, abs=5.0)


def test_band_noise_that_does_not_fit_is_an_error():
    noise = BandNoise(centre_hz=150.0, width_hz=300.0, signal_to_interference_db=0.0)
    with pytest.raises(CalibrationError, match="a band of 0 to 300 Hz with skirts of 20 Hz"):
        noise.synthesise(SCENE, generator())


def test_skirts_wider_than_half_the_band_are_refused():
    with pytest.raises(ValidationError, match="must not exceed half the width"):
        BandNoise(centre_hz=900.0, width_hz=30.0, signal_to_interference_db=0.0)


@pytest.mark.derived
def test_ends_of_a_slot_of_band_noise_do_not_know_each_other():
    """A bare inverse transform repeats in a circle: its last sample would nearly be its first."""
    noise = BandNoise(centre_hz=1000.0, width_hz=100.0, signal_to_interference_db=0.0)
    scene = Scene(8_000, 4_000, 1500.0, 50.0)
    ends = np.array(
        [noise.synthesise(scene, generator(seed)).samples[[0, 1, -1]] for seed in range(500)]
    )
    together = np.corrcoef(ends.T)
    assert together[0, 1] == pytest.approx(np.cos(2.0 * np.pi * 1000.0 / 8_000), abs=0.15)
    assert abs(together[0, 2]) < 4.0 / np.sqrt(500.0)
