"""Sound files: no wrong level, no silent guess; and change of rate."""

import struct

import numpy as np
import pytest
import scipy.io.wavfile
import soundfile

from solidcopy import units
from solidcopy.errors import AudioFileError, CalibrationError
from solidcopy.signals import power
from solidcopy.signals.audio_file import read_audio, write_audio
from solidcopy.signals.resample import resampled
from solidcopy.signals.tone import tone

RATE_HZ = 16_000


def sine(peak=0.1, n_samples=RATE_HZ, frequency_hz=1000.0):
    return peak * tone(
        frequency_hz=frequency_hz, phase_rad=0.4, n_samples=n_samples, sample_rate_hz=RATE_HZ
    )


def rms_dbfs(samples):
    return units.dbfs_from_power(power.mean_power(samples))


@pytest.mark.authority
@pytest.mark.parametrize(
    ("suffix", "subtype", "error_db"),
    [
        ("wav", "PCM_16", 1e-3),
        ("wav", "PCM_24", 1e-4),
        ("wav", "PCM_32", 1e-4),
        ("wav", "FLOAT", 1e-4),
        ("wav", "DOUBLE", 1e-4),
        ("flac", "PCM_16", 1e-3),
        ("flac", "PCM_24", 1e-4),
    ],
)
def test_level_of_a_known_tone_in_every_word_length(tmp_path, suffix, subtype, error_db):
    """A sine of peak 0.1 is -20 dBFS. Files written by libsndfile."""
    path = tmp_path / f"tone.{suffix}"
    soundfile.write(path, sine(), RATE_HZ, subtype=subtype)
    audio = read_audio(path)
    assert audio.sample_rate_hz == RATE_HZ
    assert audio.samples.dtype == np.float64
    assert rms_dbfs(audio.samples - audio.samples.mean()) == pytest.approx(-20.0, abs=error_db)
    assert audio.notes == ()


@pytest.mark.authority
def test_8_bit_words_are_unsigned_with_silence_at_128(tmp_path):
    """NEEDS 3.1: read as 0..255 they carry an offset of 128. A sine of peak 0.9: -0.915 dBFS."""
    path = tmp_path / "tone.wav"
    words = np.rint(128.0 + 128.0 * sine(0.9)).astype(np.uint8)
    scipy.io.wavfile.write(path, RATE_HZ, words)  # 8-bit WAV is unsigned by its format
    audio = read_audio(path)
    assert abs(audio.samples.mean()) < 0.5 / 128.0
    assert rms_dbfs(audio.samples) == pytest.approx(-0.915, abs=0.05)


@pytest.mark.authority
def test_16_bit_files_read_alike_by_scipy(tmp_path):
    path = tmp_path / "ours.wav"
    write_audio(path, sine(0.7), sample_rate_hz=RATE_HZ, subtype="PCM_16")
    rate_hz, words = scipy.io.wavfile.read(path)
    assert rate_hz == RATE_HZ
    assert words.dtype == np.int16
    assert np.abs(words / 32768.0 - sine(0.7)).max() <= 0.5 / 32768.0 + 1e-12


def test_float_file_keeps_every_bit(tmp_path):
    path = tmp_path / "ours.wav"
    samples = sine(0.3).astype(np.float32)
    write_audio(path, samples, sample_rate_hz=RATE_HZ)
    assert np.array_equal(read_audio(path).samples.astype(np.float32), samples)


@pytest.mark.parametrize("peak", [1.0, 1.5])
def test_16_bit_never_wraps(tmp_path, peak):
    """A plain cast of 1.5 would give -16386 (NEEDS 2, row 4)."""
    path = tmp_path / "clipped.wav"
    square = peak * np.sign(sine())
    with pytest.raises(CalibrationError, match="samples do not fit 16 bits"):
        write_audio(path, square, sample_rate_hz=RATE_HZ, subtype="PCM_16")
    assert not path.exists()


@pytest.mark.parametrize("stated", [0, 0xFFFFFFFF, 0x7FFFFFF0, 4 * RATE_HZ])
def test_wrong_length_in_the_header_is_mended_and_told(tmp_path, stated):
    """Recorder died (0), streamed (FFFFFFFF), planned or promised more than there is."""
    path = tmp_path / "broken.wav"
    write_audio(path, sine(), sample_rate_hz=RATE_HZ, subtype="PCM_16")
    content = bytearray(path.read_bytes())
    at = content.index(b"data")
    struct.pack_into("<I", content, at + 4, stated)
    path.write_bytes(bytes(content))
    audio = read_audio(path)
    assert audio.duration_s == pytest.approx(1.0)
    assert rms_dbfs(audio.samples) == pytest.approx(-20.0, abs=1e-3)
    assert len(audio.notes) == 1
    assert "1.00 s" in audio.notes[0]


def test_truncated_file_keeps_what_is_there(tmp_path):
    path = tmp_path / "short.wav"
    write_audio(path, sine(), sample_rate_hz=RATE_HZ, subtype="PCM_16")
    content = path.read_bytes()
    path.write_bytes(content[: len(content) - RATE_HZ - 1])  # half a second, and half a sample
    audio = read_audio(path)
    assert audio.samples.size == RATE_HZ // 2 - 1
    assert "0.50 s that the header promises are lost" in audio.notes[0]


def test_empty_file_with_a_tail_of_text_is_not_taken_for_sound(tmp_path):
    path = tmp_path / "empty.wav"
    soundfile.write(path, np.zeros(0), RATE_HZ, subtype="PCM_16")
    text = b"LIST" + struct.pack("<I", 16) + b"INFOICMT" + struct.pack("<I", 4) + b"pump"
    path.write_bytes(path.read_bytes() + text)
    with pytest.raises(AudioFileError, match="holds no sound"):
        read_audio(path)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        (np.zeros(0), "holds no sound"),
        (np.zeros(800), "is silent"),
        (np.full(800, 0.25), "is silent"),
        (np.array([0.1, np.nan, 0.2, np.inf]), "2 of 4 samples are no numbers"),
        (np.stack([sine(), sine(frequency_hz=700.0)], axis=1), "left and right differ"),
    ],
)
def test_unfit_sound_is_refused_in_one_sentence(tmp_path, values, sentence):
    path = tmp_path / "unfit.wav"
    soundfile.write(path, values, RATE_HZ, subtype="FLOAT")
    with pytest.raises(AudioFileError, match=sentence) as caught:
        read_audio(path)
    assert "\n" not in str(caught.value)


def test_channels_are_chosen_never_averaged(tmp_path):
    path = tmp_path / "two.wav"
    soundfile.write(path, np.stack([sine(), -sine(0.2)], axis=1), RATE_HZ, subtype="FLOAT")
    assert rms_dbfs(read_audio(path, channel=1).samples) == pytest.approx(-20.0, abs=1e-4)
    assert rms_dbfs(read_audio(path, channel=2).samples) == pytest.approx(-13.979, abs=1e-3)
    with pytest.raises(AudioFileError, match="channels 1 to 2, not 3"):
        read_audio(path, channel=3)


@pytest.mark.parametrize(
    ("other", "sentence"),
    [
        (-1.0, "right is left turned over: their sum would be nothing; left is taken"),
        (0.0, "right is silent; left is taken"),
        (0.5, "the channels are the same sound, right 6.02 dB weaker; left is taken"),
    ],
)
def test_a_channel_that_adds_nothing_needs_no_choice(tmp_path, other, sentence):
    """A mean of both would lose 6 dB, everything, or 2.5 dB (NEEDS 3.1)."""
    path = tmp_path / "two.wav"
    soundfile.write(path, np.stack([sine(), other * sine()], axis=1), RATE_HZ, subtype="FLOAT")
    audio = read_audio(path)
    assert rms_dbfs(audio.samples) == pytest.approx(-20.0, abs=1e-4)
    assert audio.notes == (sentence,)


def test_equal_channels_need_no_choice(tmp_path):
    path = tmp_path / "alike.wav"
    soundfile.write(path, np.stack([sine(), sine()], axis=1), RATE_HZ, subtype="PCM_16")
    audio = read_audio(path)
    assert rms_dbfs(audio.samples) == pytest.approx(-20.0, abs=1e-3)
    assert audio.notes == ("its 2 channels are alike; left is taken",)


def test_float_beyond_full_scale_keeps_its_level(tmp_path):
    path = tmp_path / "loud.wav"
    soundfile.write(path, sine(2.0), RATE_HZ, subtype="FLOAT")
    audio = read_audio(path)
    assert rms_dbfs(audio.samples) == pytest.approx(6.02, abs=0.01)
    assert "6.0 dB beyond full scale" in audio.notes[0]


def test_lossy_sound_is_refused(tmp_path):
    path = tmp_path / "lossy.ogg"
    soundfile.write(path, sine(), RATE_HZ, format="OGG", subtype="VORBIS")
    with pytest.raises(AudioFileError, match="is lossy and changes noise"):
        read_audio(path)


def test_other_files_are_no_sound(tmp_path):
    path = tmp_path / "note.wav"
    path.write_text("the fence runs from six to nine")
    with pytest.raises(AudioFileError, match="is no sound file that can be read"):
        read_audio(path)
    with pytest.raises(AudioFileError, match="cannot be read"):
        read_audio(tmp_path / "missing.wav")


@pytest.mark.derived
@pytest.mark.parametrize(
    ("from_hz", "to_hz"), [(48_000, 12_000), (44_100, 12_000), (8_000, 48_000)]
)
def test_change_of_rate_keeps_level_and_frequency(from_hz, to_hz):
    there = tone(frequency_hz=1500.0, phase_rad=0.0, n_samples=from_hz, sample_rate_hz=from_hz)
    here = resampled(there, from_hz=from_hz, to_hz=to_hz)
    expected = tone(frequency_hz=1500.0, phase_rad=0.0, n_samples=to_hz, sample_rate_hz=to_hz)
    middle = slice(to_hz // 4, 3 * to_hz // 4)
    error = power.mean_power(here[middle] - expected[middle]) / power.mean_power(expected)
    assert units.db_from_ratio(error) < -120.0


@pytest.mark.derived
def test_what_lies_above_the_lower_rate_does_not_fold_down():
    """10.5 kHz would fold to 1.5 kHz at 12 kHz, 6.3 kHz to 5.7 kHz (NEEDS 3.1)."""
    for frequency_hz in (10_500.0, 6_300.0):
        there = tone(
            frequency_hz=frequency_hz, phase_rad=0.0, n_samples=48_000, sample_rate_hz=48_000
        )
        here = resampled(there, from_hz=48_000, to_hz=12_000)[2_000:-2_000]
        assert units.db_from_ratio(power.mean_power(here) / 0.5) < -120.0


def test_equal_rates_change_nothing():
    samples = sine()
    assert resampled(samples, from_hz=RATE_HZ, to_hz=RATE_HZ) is samples
