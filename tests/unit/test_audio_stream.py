"""Pieces of a long sound file lie where they are said to lie; what does not fit leaves none."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from solidcopy.errors import AudioFileError, CalibrationError
from solidcopy.signals.audio_stream import AudioStream
from solidcopy.signals.waveform import Waveform

pytestmark = pytest.mark.derived  # 16 bits: steps of 1/32768, rounding to half a step

RATE_HZ = 8000


def piece(*values: float) -> Waveform:
    return Waveform(np.array(values, np.float32), RATE_HZ)


def test_pieces_and_silence(tmp_path: Path) -> None:
    path = tmp_path / "slots.wav"
    with AudioStream(path, sample_rate_hz=RATE_HZ) as stream:
        stream.append(piece(0.5, -0.25, 1 / 32768))
        assert stream.position_s == 3 / RATE_HZ
        stream.append_silence(0.001)
        assert stream.position_s == 11 / RATE_HZ
        stream.append(piece(-1.0, 1.0))
        assert not path.exists()
    values, rate_hz = soundfile.read(path, dtype="int16")
    assert rate_hz == RATE_HZ
    assert values.tolist() == [16384, -8192, 1, *[0] * 8, -32768, 32767]
    assert list(tmp_path.iterdir()) == [path]


def test_what_does_not_fit_leaves_no_file(tmp_path: Path) -> None:
    with (
        pytest.raises(CalibrationError, match=r"\+6\.02 dB"),
        AudioStream(tmp_path / "slots.wav", sample_rate_hz=RATE_HZ) as stream,
    ):
        stream.append(piece(0.1, 2.0))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(AudioFileError, match="cannot be written"):
        AudioStream(tmp_path / "missing" / "slots.wav", sample_rate_hz=RATE_HZ)
