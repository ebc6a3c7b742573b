"""Trials of FT4: energy over the slot, and what time offset means, read from the samples."""

import math

import numpy as np
import pytest

from solidcopy.modes.ft4.mode import FT4
from solidcopy.seeds import Chance
from solidcopy.signals import power
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.trial import SENT, Recording, Trial, Truth

RATES_HZ = (8_000, 11_025, 12_000, 48_000)


def made(*, rate_hz: int = 12_000, snr_db: float = 60.0, **sending: float) -> tuple:
    noise = {"kind": "gaussian-noise", "snr_db": snr_db}
    condition = Condition.model_validate(
        {"name": "quiet band", "sending": sending, "impairments": [noise]}
    )
    return make(Trial("ft4", condition, rate_hz, None, Chance(7, SENT, 3, -10.0)))


@pytest.mark.authority
def test_energy_over_the_slot_reads_173_db_low() -> None:
    # Arithmetic of the published times: 5.04 s of a 7.5 s slot, 10 lg(5.04 / 7.5) = -1.726 dB.
    recording, _ = made(start_offset_s=0.0, signal_dbfs=-20.0)
    assert recording.readings.signal_dbfs == pytest.approx(-20.0, abs=0.005)
    assert recording.readings.mean_dbfs == pytest.approx(-20.0 - 1.726, abs=0.005)


@pytest.mark.derived
@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_asked_and_got_at_every_sample_rate(rate_hz: int) -> None:
    # White noise over 7.5 s in 2500 Hz: standard deviation 10 lg(e) / sqrt(2500 · 7.5) = 0.032 dB.
    recording, _ = made(rate_hz=rate_hz, snr_db=-15.0)
    level = recording.readings.levels[0]
    assert recording.waveform.samples.size == round(7.5 * rate_hz)
    assert level.quantity == "SNR in 2500 Hz"
    assert level.got_db == pytest.approx(level.asked_db, abs=4.5 * 0.032)


def heard_tones(recording: Recording, truth: Truth, start_s: float) -> list[int]:
    """The strongest of the four tones in each of 105 windows of 48 ms from `start_s` on."""
    rate_hz = recording.waveform.sample_rate_hz
    tones_hz = truth.audio_hz + np.arange(4) / 0.048
    heard = []
    for symbol in range(105):
        first = round((start_s + 0.048 * symbol) * rate_hz)
        samples = recording.waveform.samples[first : first + round(0.048 * rate_hz)]
        time_s = np.arange(samples.size) / rate_hz
        bank = np.exp(-2j * np.pi * np.outer(tones_hz, time_s))
        heard.append(int(np.abs(bank @ samples).argmax()))
    return heard


@pytest.mark.derived
@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("offset_s", [-0.4, 0.0, 1.25])
def test_offset_counts_from_half_a_second_to_the_rising_ramp(rate_hz: int, offset_s: float) -> None:
    # Convention from memory: the ramp symbol is the first of the transmission.
    recording, truth = made(rate_hz=rate_hz, start_offset_s=offset_s)
    assert heard_tones(recording, truth, 0.5 + offset_s) == FT4.encode(truth.message).tolist()
    assert heard_tones(recording, truth, 0.548 + offset_s) != FT4.encode(truth.message).tolist()
    first, last = round((0.5 + offset_s) * rate_hz), round((5.54 + offset_s) * rate_hz)
    samples = recording.waveform.samples.astype(np.float64)
    outside = np.concatenate([samples[:first], samples[last:]])
    inside = samples[first:last]
    # 60 dB in 2500 Hz leaves the noise of half the rate behind.
    noise_db = -60.0 + 10.0 * math.log10(rate_hz / 2 / 2500)
    ratio_db = 10.0 * math.log10(power.mean_power(outside) / power.mean_power(inside))
    assert ratio_db == pytest.approx(noise_db, abs=0.3)
