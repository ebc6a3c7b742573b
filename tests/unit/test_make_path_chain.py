"""Paths act on the wanted signal alone, chains on the sum; both leave everything else as it is."""

import numpy as np
import pytest

from solidcopy import units
from solidcopy.errors import PlanError
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.plan import parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT, Trial

NOISE = {"kind": "gaussian-noise", "snr_db": -3.0}
SHIFT = {"kind": "frequency-shift", "shift_hz": 12.0, "drift_hz_per_min": 30.0}
CLIPPING = {"kind": "clipping", "level_db": 3.0}


def trial(*impairments, arm=SENT, index=0, internal_rate_hz=None, level_dbfs=None, **sending):
    condition = Condition.model_validate(
        {"name": "c", "sending": sending, "impairments": impairments}
    )
    chance = Chance(7, arm, index, -3.0)
    return Trial("ft8", condition, 12_000, level_dbfs, chance, internal_rate_hz)


def test_path_touches_the_wanted_signal_alone():
    plain, moved = make(trial(NOISE))[0], make(trial(NOISE, SHIFT))[0]
    assert plain.digest != moved.digest
    silent = [make(trial(NOISE, *more, arm=NOTHING_SENT))[0].digest for more in ([], [SHIFT])]
    assert silent[0] == silent[1]


def test_truth_is_where_the_signal_arrives():
    sent, arrived = make(trial(NOISE))[1], make(trial(NOISE, SHIFT))[1]
    assert arrived.audio_hz == pytest.approx(sent.audio_hz + 12.0)
    assert arrived.time_offset_s == sent.time_offset_s


def test_levels_under_a_path_are_met():
    recording, _ = make(trial(NOISE, SHIFT))
    assert recording.readings.path_gain_db == pytest.approx(0.0, abs=1e-6)
    assert recording.readings.levels[0].got_db == pytest.approx(-3.0, abs=0.15)


@pytest.mark.derived
def test_drift_moves_the_frequency_by_rate_times_time():
    """30 Hz a minute over 12.64 s: the last symbols lie 6.3 Hz above the first, about 12 Hz."""
    quiet = {"kind": "gaussian-noise", "snr_db": 60.0}
    fixed = {"audio_hz": 1500.0, "start_offset_s": 0.0}
    plain, moved = (make(trial(quiet, *more, **fixed))[0] for more in ([], [SHIFT]))
    rate = 12_000
    ends = []
    for start_s in (0.6, 12.5):  # symbols of the first and the last Costas array
        part = slice(round(start_s * rate), round((start_s + 0.6) * rate))
        spectra = [
            np.abs(np.fft.rfft(item.waveform.samples[part] * np.hanning(7200), 1 << 18)) ** 2
            for item in (plain, moved)
        ]
        hz = np.fft.rfftfreq(1 << 18, 1 / rate)
        centres = [float((hz * spectrum).sum() / spectrum.sum()) for spectrum in spectra]
        ends.append(centres[1] - centres[0])
    assert (ends[0] + ends[1]) / 2.0 == pytest.approx(12.0, abs=0.15)
    assert ends[1] - ends[0] == pytest.approx(30.0 / 60.0 * 11.9, abs=0.15)


def test_block_that_is_off_changes_no_bit():
    assert make(trial(NOISE))[0].digest == make(trial(NOISE, {**CLIPPING, "on": False}))[0].digest


def test_chain_acts_on_the_sum_behind_its_readings():
    plain, clipped = make(trial(NOISE))[0].readings, make(trial(NOISE, CLIPPING))[0].readings
    assert clipped.levels[0].got_db == plain.levels[0].got_db
    assert clipped.crest_db < 4.5 < plain.crest_db  # clipping lowers the rms too, by 0.4 dB


@pytest.mark.derived
def test_wide_synthesis_keeps_the_density_of_noise():
    """At 48 kHz four times the power, and the same SNR in 2500 Hz before and after decimation."""
    narrow = make(trial(NOISE))[0]
    wide = make(trial(NOISE, internal_rate_hz=48_000))[0]
    assert wide.waveform.samples.size == narrow.waveform.samples.size
    assert wide.readings.levels[0].got_db == pytest.approx(-3.0, abs=0.15)
    densities = []
    for recording in (narrow, wide):
        spectrum = np.abs(np.fft.rfft(recording.waveform.samples)) ** 2
        in_band, whole = spectrum[3000:75_000].sum(), spectrum.sum()
        densities.append(units.db_from_ratio(in_band / whole))
    assert densities[1] == pytest.approx(densities[0], abs=0.4)  # soxr's roll-off above 5.5 kHz


def test_wide_signal_is_the_narrow_one():
    """The wanted signal made at 48 kHz and brought to 12 kHz: the same samples to -80 dB."""
    quiet = {"kind": "gaussian-noise", "snr_db": 100.0}
    fixed = {"audio_hz": 1500.0, "start_offset_s": 0.1}
    narrow = make(trial(quiet, **fixed))[0].waveform.samples.astype(float)
    wide = make(trial(quiet, internal_rate_hz=48_000, **fixed))[0].waveform.samples.astype(float)
    wide *= np.vdot(narrow, wide) / np.vdot(wide, wide)
    assert np.mean((narrow - wide) ** 2) < 1e-8 * np.mean(narrow**2)


def test_level_of_the_mix_holds_behind_a_chain():
    recording = make(trial(NOISE, CLIPPING, level_dbfs=-30.0))[0]
    assert recording.readings.mean_dbfs == pytest.approx(-30.0, abs=0.01)


@pytest.mark.parametrize("internal_rate_hz", [12_000, 30_000])
def test_internal_rate_must_be_a_multiple(internal_rate_hz):
    plan = {
        "mode": "ft8",
        "root_seed": 1,
        "axis": {"values": [-20.0]},
        "stop": {"trials_per_point": 1},
        "audio": {"internal_rate_hz": internal_rate_hz},
        "conditions": [{"name": "c", "impairments": [{**NOISE, "snr_db": "axis"}]}],
    }
    with pytest.raises(PlanError, match="internal_rate_hz"):
        parse_plan(plan)
