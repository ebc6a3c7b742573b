"""Several disturbances in one trial: powers add, draws stay apart, faults are caught."""

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.stats

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.impairment import Disturbance, Draw, Scene
from solidcopy.impairments.level import Level
from solidcopy.seeds import Chance
from solidcopy.signals.audio_file import read_audio, write_audio
from solidcopy.signals.tone import tone
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.mixing import added_parts
from solidcopy.trials.readings import Mix, Part, chance_limits_db, measure
from solidcopy.trials.trial import NOTHING_SENT, SENT, Trial
from solidcopy.trials.wanted import Wanted

NOISE = {"kind": "gaussian-noise", "snr_db": -12.0}
CARRIER = {"kind": "carrier", "offset_hz": 100.0, "signal_to_interference_db": -6.0}
KEYED = {
    "kind": "carrier",
    "audio_hz": 700.0,
    "interference_to_noise_db": 2.0,
    "keying": {"text": "TEST Q1ABC"},
}
HASH = {
    "kind": "band-noise",
    "centre_hz": 2000.0,
    "width_hz": 200.0,
    "signal_to_interference_db": -9.0,
}
FENCE = {
    "kind": "impulses",
    "rate_per_s": 0.77,
    "timing": "jittered",
    "jitter_ms": 4.0,
    "signal_to_interference_db": -15.0,
}
ALL = [NOISE, CARRIER, KEYED, HASH, FENCE]


def trial(*impairments, index=0, arm=SENT, sending=None, level_dbfs=None):
    condition = Condition.model_validate(
        {"name": "harbour", "sending": sending or {}, "impairments": list(impairments)}
    )
    return Trial("ft8", condition, 12_000, level_dbfs, Chance(11, arm, index, -12.0))


def levels(recording):
    return {reading.name: reading for reading in recording.readings.levels}


@pytest.mark.derived
def test_powers_add():
    recording, truth = make(trial(*ALL))
    readings = recording.readings
    cut = max(0.0, 0.5 + truth.time_offset_s + 12.64 - 15.0) - min(0.0, 0.5 + truth.time_offset_s)
    sent = units.power_from_dbfs(readings.signal_dbfs) * (12.64 - cut) / 15.0
    total = sent + sum(units.power_from_dbfs(reading.mean_dbfs) for reading in readings.levels)
    # Cross products of 15 s: the carrier and the signal share no more than 0.05 dB.
    assert units.dbfs_from_power(total) == pytest.approx(readings.mean_dbfs, abs=0.05)


def test_every_level_is_read_beside_the_asked_one():
    readings = levels(make(trial(*ALL))[0])
    assert set(readings) == {"gaussian-noise", "carrier", "carrier 2", "band-noise", "impulses"}
    assert readings["carrier"].quantity == "S/I"
    assert readings["carrier 2"].quantity == "I/N in 2500 Hz"
    assert readings["carrier"].got_db == pytest.approx(-6.0, abs=0.01)
    assert readings["carrier 2"].got_db == pytest.approx(2.0, abs=0.11)
    keyed = readings["carrier 2"]
    assert 2.0 < keyed.while_on_dbfs - keyed.mean_dbfs < 5.0
    assert readings["impulses"].crest_db > 20.0


def test_order_of_impairments_does_not_matter():
    """Bit for bit; two of a kind are told apart by their order, so one carrier only."""
    some = [NOISE, CARRIER, HASH, FENCE]
    assert make(trial(*some))[0].digest == make(trial(*reversed(some)))[0].digest


def test_a_new_disturbance_moves_no_other_draw():
    scene = Scene(12_000, 180_000, 1500.0, 50.0)

    def noise_of(*impairments):
        asked = trial(*impairments)
        parts = added_parts(asked.condition, scene, signal_power=0.5, chance=asked.chance)
        return next(part for part in parts if part.name == "gaussian-noise").disturbance.samples

    assert np.array_equal(noise_of(NOISE), noise_of(CARRIER, HASH, NOISE, FENCE))
    assert make(trial(NOISE))[1] == make(trial(NOISE, CARRIER, FENCE))[1]


def test_two_of_a_kind_draw_apart():
    recording, _ = make(trial(NOISE, HASH, {**HASH, "centre_hz": 800.0}))
    assert {"band-noise", "band-noise 2"} <= set(levels(recording))
    pair = levels(recording)
    assert pair["band-noise"].got_db != pair["band-noise 2"].got_db


@pytest.mark.derived
def test_a_change_of_level_moves_the_reading_exactly():
    first = levels(make(trial(NOISE, CARRIER))[0])["carrier"]
    second = levels(make(trial(NOISE, {**CARRIER, "signal_to_interference_db": 1.5}))[0])["carrier"]
    assert second.got_db - first.got_db == pytest.approx(7.5, abs=1e-4)


@pytest.mark.derived
def test_two_noises_add_under_an_interference_to_noise_ratio():
    """Two equal noises: 3.01 dB more noise, so as much more carrier beside the signal."""
    one = levels(make(trial(NOISE, KEYED))[0])["carrier"]
    two = levels(make(trial(NOISE, NOISE, KEYED))[0])
    assert {"gaussian-noise", "gaussian-noise 2"} <= set(two)
    rise_db = (two["carrier"].mean_dbfs - two["gaussian-noise"].mean_dbfs) - (
        one.mean_dbfs - levels(make(trial(NOISE, KEYED))[0])["gaussian-noise"].mean_dbfs
    )
    assert rise_db == pytest.approx(3.01, abs=0.01)


def test_nothing_sent_keeps_the_disturbances_at_their_levels():
    readings = levels(make(trial(*ALL, arm=NOTHING_SENT))[0])
    assert readings["carrier"].got_db == pytest.approx(-6.0, abs=0.01)


def test_slot_with_no_sound_at_all_is_silence():
    rare = {**FENCE, "rate_per_s": 0.05, "timing": "random", "jitter_ms": None}
    recordings = [make(trial(rare, index=index, arm=NOTHING_SENT))[0] for index in range(8)]
    assert any(not recording.waveform.samples.any() for recording in recordings)
    assert all(np.isfinite(recording.waveform.samples).all() for recording in recordings)


def test_recording_as_it_is_keeps_every_sample(tmp_path):
    """The mix less the wanted signal is the file (float32), at 0 dB of gain."""
    path = tmp_path / "band.wav"
    generator = np.random.Generator(np.random.PCG64DXSM(3))
    write_audio(path, 0.02 * generator.standard_normal(180_000), sample_rate_hz=12_000)
    entry = {"kind": "recording", "file": str(path), "as_recorded": True}
    recording, _ = make(trial(entry, arm=NOTHING_SENT, sending={"signal_dbfs": -40.0}))
    kept = read_audio(path).samples
    assert np.abs(recording.waveform.samples - (kept - kept.mean())).max() < 1e-7
    assert recording.readings.gain_db == 0.0
    reading = recording.readings.levels[0]
    assert reading.asked_db is None
    # -40 dBFS over the file's own noise: 4e-4 * 2500 / 6000 of mean square.
    expected_db = -40.0 - units.dbfs_from_power(4e-4 * 2500.0 / 6000.0)
    assert reading.got_db == pytest.approx(expected_db, abs=0.1)


def test_recording_as_it_is_beside_a_signal_too_strong_for_it_clips(tmp_path):
    path = tmp_path / "band.wav"
    generator = np.random.Generator(np.random.PCG64DXSM(3))
    write_audio(path, 0.02 * generator.standard_normal(180_000), sample_rate_hz=12_000)
    entry = {"kind": "recording", "file": str(path), "as_recorded": True}
    with pytest.raises(CalibrationError, match=r"sending\.signal_dbfs asks for 0 dBFS"):
        make(trial(entry, sending={"signal_dbfs": 0.0}))


# -- faults that readings must find ---------------------------------------------------------


def sound_mix():
    """A tone as the wanted signal and another as a carrier 6 dB stronger, both well made."""
    wanted = tone(frequency_hz=1500.0, phase_rad=0.0, n_samples=60_000, sample_rate_hz=12_000)
    other = 2.0 * tone(frequency_hz=900.0, phase_rad=1.0, n_samples=60_000, sample_rate_hz=12_000)
    disturbance = Disturbance(other, 0.5, 0.0, (880.0, 920.0))
    part = Part("carrier", Level("signal_to_interference", -6.0206), disturbance, 0)
    return Mix(12_000, Wanted(wanted, 0.5, 1.0, (1400.0, 1600.0)), (part,), 0.1)


def recorded(mix):
    total = mix.wanted.samples + mix.parts[0].disturbance.samples
    return (mix.gain * total).astype(np.float32)


def with_part(mix, **changes):
    part = mix.parts[0]
    return replace(mix, parts=(replace(part, disturbance=replace(part.disturbance, **changes)),))


def test_sound_mix_passes():
    mix = sound_mix()
    readings = measure(mix, recorded(mix), recorded(mix))
    assert readings.levels[0].got_db == pytest.approx(-6.0206, abs=0.01)
    assert readings.signal_dbfs == pytest.approx(-20.0, abs=0.01)


def test_part_off_by_a_fifth_of_a_db_is_found():
    mix = sound_mix()
    wrong = with_part(mix, samples=mix.parts[0].disturbance.samples * 10 ** (0.2 / 20.0))
    with pytest.raises(CalibrationError, match=r"carrier: S/I asked -6\.02.*got -6\.2"):
        measure(wrong, recorded(wrong), recorded(wrong))


def test_part_at_another_frequency_is_found():
    wrong = with_part(sound_mix(), occupied_hz=(980.0, 1020.0))
    with pytest.raises(CalibrationError, match="carrier: S/I asked"):
        measure(wrong, recorded(wrong), recorded(wrong))


def test_wanted_signal_off_by_a_fifth_of_a_db_is_found():
    mix = sound_mix()
    wrong = replace(mix, wanted=replace(mix.wanted, asked_power=0.5 * 10 ** (0.2 / 10.0)))
    with pytest.raises(CalibrationError, match=r"the wanted signal is -0\.20 dB"):
        measure(wrong, recorded(wrong), recorded(wrong))


def test_recording_that_is_not_the_sum_is_found():
    mix = sound_mix()
    samples = recorded(mix)
    samples[1234] += 0.01
    with pytest.raises(CalibrationError, match="not the sum of its parts"):
        measure(mix, samples, samples)


def test_draws_that_do_not_explain_are_found():
    wrong = with_part(sound_mix(), draw=Draw(1.05, 0.0))
    with pytest.raises(CalibrationError, match=r"expected -6\.23 dB from the draws"):
        measure(wrong, recorded(wrong), recorded(wrong))


@pytest.mark.authority
def test_limits_of_chance_are_those_of_gamma():
    """scipy.stats: chi-square of n = 50 values, whose relative spread is sqrt(2 / 50)."""
    spread_db = units.db_from_ratio(1.0 + math.sqrt(2.0 / 50.0))
    low_db, high_db = chance_limits_db(spread_db)
    low, high = (units.ratio_from_db(limit) * 50.0 for limit in (low_db, high_db))
    assert scipy.stats.chi2.cdf(low, 50) == pytest.approx(3.4e-6, rel=1e-3)
    assert scipy.stats.chi2.sf(high, 50) == pytest.approx(3.4e-6, rel=1e-3)
    assert chance_limits_db(0.0) == (0.0, 0.0)
    # For a small spread: 4.5 of them.
    assert chance_limits_db(0.02)[1] == pytest.approx(4.5 * 0.02, rel=0.03)


@pytest.mark.sweep
@pytest.mark.derived
def test_asked_and_got_over_many_trials():
    names = ["gaussian-noise", "carrier", "carrier 2", "band-noise", "impulses"]
    differences = {name: [] for name in names}
    for index in range(200):
        for name, reading in levels(make(trial(*ALL, index=index))[0]).items():
            differences[name].append((reading.got_db - reading.asked_db, reading.spread_db))
    for name in names:
        got, spread = np.array(differences[name]).T
        allowed_db = 0.004 + 4.5 * spread[0] / math.sqrt(200.0)
        assert np.mean(got) == pytest.approx(0.0, abs=allowed_db), name
        assert np.std(got) < 1.3 * spread[0] + 0.003, name
