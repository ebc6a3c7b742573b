"""A trial with Gaussian noise: asked and got, bookkeeping of energy, chance, clipping."""

import hashlib

import numpy as np
import pytest

from solidcopy import units
from solidcopy.errors import CalibrationError, MessageError, PlanError
from solidcopy.seeds import Chance
from solidcopy.signals import power
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.trial import NOTHING_SENT, SENT, Trial

NOISE = {"kind": "gaussian-noise", "snr_db": -10.0}


def trial(index=0, *, arm=SENT, rate_hz=12_000, level_dbfs=None, sending=None, noise=NOISE):
    condition = Condition.model_validate(
        {"name": "quiet band", "sending": sending or {}, "impairments": [noise]}
    )
    return Trial("ft8", condition, rate_hz, level_dbfs, Chance(7, arm, index, -10.0))


def test_same_trial_same_samples_whatever_was_made_before():
    first, _ = make(trial(5))
    make(trial(6))
    again, _ = make(trial(5))
    assert again.digest == first.digest
    assert make(trial(6))[0].digest != first.digest


def test_digest_is_of_little_endian_float32():
    recording, _ = make(trial())
    raw = recording.waveform.samples.astype("<f4").tobytes()
    assert recording.digest == hashlib.sha256(raw).hexdigest()


@pytest.mark.derived
def test_slot_length_mean_and_peak_of_an_automatic_level():
    recording, _ = make(trial())
    assert recording.waveform.samples.size == 180_000  # 15 s at 12 kHz
    assert recording.readings.mean_dbfs == pytest.approx(-20.0, abs=1e-4)
    assert recording.readings.peak_dbfs <= -1.0
    assert recording.readings.n_clipped == 0


@pytest.mark.authority
def test_energy_over_the_slot_reads_074_db_low():
    """FACTS A8 (verified arithmetic): 12.64 s of a 15 s slot, so 0.74 dB below the power sent."""
    sending = {"start_offset_s": 0.0, "signal_dbfs": -20.0}
    noise = {"kind": "gaussian-noise", "snr_db": 60.0}
    recording, _ = make(trial(sending=sending, noise=noise))
    assert recording.readings.signal_dbfs == pytest.approx(-20.0, abs=0.005)
    assert recording.readings.mean_dbfs == pytest.approx(-20.0 - 0.743, abs=0.005)


def test_got_agrees_with_asked_at_every_sample_rate():
    for rate_hz in (8_000, 11_025, 12_000, 16_000, 44_100, 48_000):
        level = make(trial(rate_hz=rate_hz))[0].readings.levels[0]
        assert level.quantity == "SNR in 2500 Hz"
        assert level.got_db == pytest.approx(level.asked_db, abs=4.5 * 0.0224)


def test_start_offset_beyond_the_slot_cuts_the_signal_and_keeps_its_power():
    late = {"start_offset_s": 2.5, "audio_hz": 1000.0}
    recording, truth = make(trial(sending=late))
    assert truth.time_offset_s == 2.5
    assert recording.waveform.duration_s == 15.0
    asked = recording.readings.levels[0]
    assert asked.got_db == pytest.approx(-10.0, abs=0.1)


def test_truth_tells_the_start_of_the_nearest_sample():
    _, truth = make(trial(sending={"start_offset_s": 0.123_456_789}))
    assert truth.time_offset_s * 12_000 == pytest.approx(round(0.123_456_789 * 12_000), abs=1e-6)


def test_nothing_sent_keeps_the_noise_and_leaves_the_signal_out():
    recording, truth = make(trial(arm=NOTHING_SENT))
    assert truth.message is None
    assert recording.readings.signal_dbfs == -np.inf
    assert recording.readings.levels[0].got_db == pytest.approx(-10.0, abs=0.1)


def test_random_messages_differ_and_a_fixed_one_stays():
    texts = {make(trial(index))[1].message.text for index in range(6)}
    assert len(texts) == 6
    fixed = [make(trial(index, sending={"message": "CQ Q1ABC FN42"}))[1] for index in (0, 1)]
    assert [truth.message.text for truth in fixed] == ["CQ Q1ABC FN42"] * 2


def test_message_that_the_mode_cannot_carry_is_refused():
    with pytest.raises(MessageError):
        make(trial(sending={"message": "THIS TEXT IS FAR TOO LONG FOR IT"}))


def test_clipping_is_an_error_that_says_by_how_much():
    with pytest.raises(CalibrationError, match=r"audio.level_dbfs asks for -3 dBFS: \d+ samples"):
        make(trial(level_dbfs=-3.0))


def test_lowering_by_what_the_error_says_is_enough():
    with pytest.raises(CalibrationError) as caught:
        make(trial(level_dbfs=-3.0))
    lower_db = float(str(caught.value).rsplit("least ", 1)[1].split(" ", maxsplit=1)[0])
    recording, _ = make(trial(level_dbfs=-3.0 - lower_db))
    assert recording.readings.n_clipped == 0
    assert recording.readings.peak_dbfs > -0.2


def test_fixed_level_is_met_exactly():
    recording, _ = make(trial(level_dbfs=-30.0))
    mean = units.dbfs_from_power(power.mean_power(recording.waveform.samples))
    assert mean == pytest.approx(-30.0, abs=1e-5)


def test_signal_level_and_mix_level_cannot_both_be_fixed():
    with pytest.raises(PlanError, match=r"audio\.level_dbfs cannot be fixed too"):
        make(trial(level_dbfs=-20.0, sending={"signal_dbfs": -30.0}))


@pytest.mark.parametrize("audio_hz", [0.0, 5970.0, {"low": 500.0, "high": 5990.0}])
def test_tones_outside_the_sampled_band_are_refused(audio_hz):
    with pytest.raises(PlanError, match=r"sending\.audio_hz"):
        make(trial(sending={"audio_hz": audio_hz}))
