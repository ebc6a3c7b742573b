"""A comment behind the sound, as programs that are not ours read it."""

import hashlib
import struct
import wave
from pathlib import Path

import numpy as np
import pytest
import scipy.io.wavfile
import soundfile

from solidcopy.errors import AudioFileError
from solidcopy.signals import riff
from solidcopy.signals.audio_file import read_audio, write_audio
from solidcopy.signals.audio_stream import AudioStream
from solidcopy.signals.waveform import Waveform

RATE_HZ = 8000
TEXT = '{"recipe":"\\u00e9", "n": 3}'
SOUND = (0.3 * np.sin(np.arange(801) * 0.4)).astype(np.float32)


@pytest.mark.authority  # libsndfile, the standard library's wave module, scipy
@pytest.mark.parametrize("text", [TEXT, TEXT + "x"])
def test_other_readers_find_text_and_sound(tmp_path: Path, text: str) -> None:
    plain, told = tmp_path / "plain.wav", tmp_path / "told.wav"
    write_audio(plain, SOUND, sample_rate_hz=RATE_HZ, subtype="PCM_16")
    write_audio(told, SOUND, sample_rate_hz=RATE_HZ, subtype="PCM_16", comment=text)
    with soundfile.SoundFile(told) as opened:
        assert opened.comment == text
        assert opened.frames == SOUND.size
    with wave.open(str(plain)) as first, wave.open(str(told)) as second:
        assert first.getparams() == second.getparams()
        assert first.readframes(-1) == second.readframes(-1)
    rate_hz, values = scipy.io.wavfile.read(told)
    assert rate_hz == RATE_HZ
    assert np.array_equal(values, np.rint(SOUND.astype(np.float64) * 32768))
    assert riff.read_comments(told) == [text] and riff.read_comments(plain) == []
    # What lies before the added chunk is the plain file, but for the length in its head.
    before, after = plain.read_bytes(), told.read_bytes()
    assert after[8 : len(before)] == before[8:]
    assert struct.unpack("<I", after[4:8])[0] == len(after) - 8


@pytest.mark.authority  # libsndfile writes the comment, we read it
def test_a_comment_written_by_another_is_read(tmp_path: Path) -> None:
    path = tmp_path / "other.wav"
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, "PCM_16", format="WAV") as opened:
        opened.comment = "recorded by hand"
        opened.write(SOUND)
    assert riff.read_comments(path) == ["recorded by hand"]


@pytest.mark.authority  # libsndfile reads floats back bit by bit; SHA-256 by hashlib
def test_float_samples_stay_untouched(tmp_path: Path) -> None:
    path = tmp_path / "float.wav"
    write_audio(path, SOUND, sample_rate_hz=RATE_HZ, comment=TEXT)
    values, _ = soundfile.read(path, dtype="float32")
    assert hashlib.sha256(values.tobytes()).digest() == hashlib.sha256(SOUND.tobytes()).digest()
    assert read_audio(path).notes == ()


@pytest.mark.derived
def test_a_long_file_carries_its_text_and_counts_its_samples(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    with AudioStream(path, sample_rate_hz=RATE_HZ) as stream:
        stream.append(Waveform(SOUND, RATE_HZ))
        stream.append_silence(0.5)
        stream.comment(TEXT)
    values, _ = soundfile.read(path, dtype="int16")
    assert riff.read_comments(path) == [TEXT]
    facts = stream.facts
    assert facts.n_samples == values.size == 801 + 4000
    assert facts.sha256 == hashlib.sha256(values.tobytes()).hexdigest()
    assert facts.mean_power == pytest.approx(float(np.mean((values / 32768.0) ** 2)), rel=1e-12)
    assert facts.peak == np.abs(values).max() / 32768.0 and facts.n_at_full_scale == 0


@pytest.mark.derived
def test_what_is_no_wav_file_cannot_carry_a_text(tmp_path: Path) -> None:
    path = tmp_path / "sound.flac"
    soundfile.write(path, SOUND, RATE_HZ)
    assert riff.read_comments(path) == []
    with pytest.raises(AudioFileError, match="no WAV file"):
        riff.append_comment(path, TEXT, software="test")
    (tmp_path / "short.wav").write_bytes(b"RIFF\x10\0\0\0WAVELIST\xff\xff\xff\x7fINFO")
    assert riff.read_comments(tmp_path / "short.wav") == []
