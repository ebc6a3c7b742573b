"""Own recordings as noise or interference: level, place, circle, content."""

import os
import shutil

import numpy as np
import pytest
import soundfile
from pydantic import ValidationError

from solidcopy import units
from solidcopy.errors import AudioFileError
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.impairments.impairment import Scene
from solidcopy.signals import power
from solidcopy.signals.audio_file import write_audio
from solidcopy.signals.tone import tone

RATE_HZ = 16_000


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def scene(rate_hz=12_000, duration_s=5.0):
    return Scene(rate_hz, round(duration_s * rate_hz), 1500.0, 50.0)


def recording(path, **fields):
    level = fields or {"signal_to_interference_db": 0.0}
    return OwnRecording.model_validate({"file": str(path), **level})


@pytest.fixture
def noise_file(tmp_path):
    path = tmp_path / "noise.wav"
    write_audio(path, 0.1 * generator().standard_normal(20 * RATE_HZ), sample_rate_hz=RATE_HZ)
    return path


@pytest.mark.derived
def test_noise_power_is_that_of_2500_hz_at_every_rate(noise_file):
    """White, so that 2500 of 8000 Hz hold 2500/8000 of the power."""
    for rate_hz in (8_000, 12_000, 48_000):
        made = recording(noise_file, snr_db=0.0).synthesise(scene(rate_hz), generator())
        assert units.db_from_ratio(made.reference_power / (0.01 * 2500.0 / 8000.0)) == (
            pytest.approx(0.0, abs=0.1)  # 50 000 independent values: 4.5 of 0.02 dB
        )


def test_random_place_never_crosses_the_end(tmp_path):
    """A ramp shows the place of every sample; a constant offset is taken out."""
    path = tmp_path / "ramp.wav"
    ramp = np.arange(8 * 8_000) / 64_000.0
    write_audio(path, ramp, sample_rate_hz=8_000)
    entry = recording(path, placement="random", signal_to_interference_db=0.0)
    starts = []
    for seed in range(60):
        samples = entry.synthesise(scene(8_000), generator(seed)).samples
        assert np.diff(samples).min() > 0.0
        starts.append((samples[0] + ramp.mean()) * 8.0)
    # Even between 0 and 3 s: the mean of 60 is 1.5 s within 4 of 0.11 s.
    assert np.mean(starts) == pytest.approx(1.5, abs=0.45)
    assert 0.0 <= min(starts) < max(starts) <= 3.0


@pytest.mark.derived
def test_circle_has_no_seam_and_keeps_its_power(tmp_path):
    """A tone that does not fit the file's length: without a fade the seam would click."""
    path = tmp_path / "tone.wav"
    steady = tone(frequency_hz=1000.3, phase_rad=0.0, n_samples=16_000, sample_rate_hz=8_000)
    write_audio(path, 0.1 * steady, sample_rate_hz=8_000)
    entry = recording(path, placement="loop", signal_to_interference_db=0.0)
    samples = entry.synthesise(scene(8_000, 15.0), generator()).samples
    curvature = np.abs(np.diff(samples, 2))
    largest = 0.1 * (2.0 * np.pi * 1000.3 / 8_000) ** 2
    assert curvature.max() < 1.45 * largest  # both copies in phase give sqrt(2) at most


@pytest.mark.derived
def test_powers_add_through_the_fade(tmp_path):
    path = tmp_path / "short.wav"
    write_audio(path, 0.1 * generator(8).standard_normal(2 * 8_000), sample_rate_hz=8_000)
    made = recording(path).synthesise(scene(8_000, 30.0), generator())
    assert made.samples.size == 240_000
    expected = power.mean_power(made.samples) / made.reference_power
    assert units.db_from_ratio(expected) == pytest.approx(0.0, abs=0.02)
    # Every 0.05 s, fades included, the power is that of the noise within chance (400 values).
    short = np.square(made.samples).reshape(-1, 400).mean(axis=1) / 0.01
    assert 0.7 < short.min() < short.max() < 1.35


def test_level_refers_to_the_whole_file_and_the_draw_tells_the_piece(tmp_path):
    """Ten seconds quiet, ten seconds ten times as strong (in power)."""
    path = tmp_path / "step.wav"
    loud = np.repeat([0.02, 0.02 * np.sqrt(10.0)], 10 * 8_000)
    write_audio(path, loud * generator().standard_normal(loud.size), sample_rate_hz=8_000)
    entry = recording(path, placement="random", signal_to_interference_db=0.0)
    ratios = [
        entry.synthesise(scene(8_000, 2.0), generator(seed)).drawn.power_ratio for seed in range(80)
    ]
    # Mean of 1 and 10 is 5.5: pieces hold 0.18 to 1.8 of it.
    assert min(ratios) == pytest.approx(1.0 / 5.5, rel=0.08)
    assert max(ratios) == pytest.approx(10.0 / 5.5, rel=0.08)


def test_identity_follows_the_content_not_the_path(noise_file, tmp_path):
    copy = tmp_path / "copy of noise.wav"
    shutil.copy(noise_file, copy)
    identity = recording(noise_file, snr_db=0.0).identity()
    assert recording(copy, snr_db=0.0).identity() == identity
    assert str(noise_file) not in str(identity)
    write_audio(copy, 0.1 * generator(9).standard_normal(RATE_HZ * 20), sample_rate_hz=RATE_HZ)
    os.utime(copy, (1, 1))
    assert recording(copy, snr_db=0.0).identity() != identity


def test_changed_file_is_read_again(noise_file):
    entry = recording(noise_file)
    before = entry.synthesise(scene(), generator()).samples
    write_audio(
        noise_file, 0.1 * generator(9).standard_normal(RATE_HZ * 20), sample_rate_hz=RATE_HZ
    )
    os.utime(noise_file, (5, 5))
    assert not np.array_equal(entry.synthesise(scene(), generator()).samples, before)


def test_channel_is_chosen(tmp_path):
    path = tmp_path / "two.wav"
    pair = generator().standard_normal((8_000 * 6, 2)) * np.array([0.1, 0.01])
    soundfile.write(path, pair, 8_000, subtype="FLOAT")
    levels = {"signal_to_interference_db": 0.0}
    for channel, expected in ((1, 0.01), (2, 0.0001)):
        made = recording(path, channel=channel, **levels).synthesise(scene(8_000), generator())
        assert made.reference_power == pytest.approx(expected, rel=0.05)
    with pytest.raises(AudioFileError, match="left and right differ"):
        recording(path, **levels).synthesise(scene(8_000), generator())


@pytest.mark.parametrize(
    ("samples", "rate_hz", "error", "sentence"),
    [
        (np.sin(np.arange(4_000.0)), 8_000, AudioFileError, "at least 1 s"),
        (np.sin(np.arange(10_000.0)), 5_000, AudioFileError, "do not reach 2700 Hz"),
    ],
)
def test_unfit_recordings_are_refused(tmp_path, samples, rate_hz, error, sentence):
    path = tmp_path / "unfit.wav"
    write_audio(path, 0.1 * samples, sample_rate_hz=rate_hz)
    with pytest.raises(error, match=sentence):
        recording(path, snr_db=0.0).synthesise(scene(), generator())


def test_missing_file_is_named():
    with pytest.raises(AudioFileError, match=r"/nowhere/fence\.wav: cannot be read"):
        recording("/nowhere/fence.wav", snr_db=0.0).identity()


def test_exactly_one_level(noise_file):
    for fields in ({"as_recorded": False}, {"snr_db": 0.0, "as_recorded": True}):
        with pytest.raises(ValidationError, match="exactly one of"):
            recording(noise_file, **fields)
