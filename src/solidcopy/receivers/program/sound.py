"""A slot's waveform as the sound file that a program is given."""

import io
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from solidcopy.receivers.program.settings import GivenAudio
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Waveform

SUBTYPES = {"16-bit": "PCM_16", "24-bit": "PCM_24", "32-bit": "PCM_32", "float": "FLOAT"}
WORD_BITS = {"16-bit": 16, "24-bit": 24, "32-bit": 32}


class SoundDoesNotFitError(Exception):
    """The samples pass full scale; the message says by how much and what to do."""


def write_sound(path: Path, waveform: Waveform, audio: GivenAudio) -> None:
    """Write a slot as WAV: resampled if asked, rounded to the word length, never wrapped.

    Raises: SoundDoesNotFitError if resampling carried it beyond full scale; nothing is written.
    """
    to_hz = audio.sample_rate_hz or waveform.sample_rate_hz
    samples = resampled(waveform.samples, from_hz=waveform.sample_rate_hz, to_hz=to_hz)
    values: NDArray[Any]
    if audio.word_length == "float":
        values = samples.astype(np.float32)
    else:
        values = _rounded(samples.astype(np.float64), WORD_BITS[audio.word_length])
    if audio.channels == 2:
        values = np.repeat(values[:, np.newaxis], 2, axis=1)
    # By way of memory: the library would wait until a file of its own is on the disk.
    written = io.BytesIO()
    soundfile.write(written, values, to_hz, format="WAV", subtype=SUBTYPES[audio.word_length])
    path.write_bytes(written.getbuffer())


def _rounded(samples: NDArray[np.float64], n_bits: int) -> NDArray[np.int32]:
    """Words of `n_bits`, in the upper bits of 32 as the file's writer takes them.

    The largest word is one step short of +1.0: a sample at full scale becomes that, as in any
    converter.
    """
    full_scale = 2.0 ** (n_bits - 1)
    words = np.rint(samples * full_scale)
    n_beyond = int(np.count_nonzero((words > full_scale) | (words < -full_scale)))
    if n_beyond:
        raise SoundDoesNotFitError(
            f"{n_beyond} samples pass full scale when the slot is resampled: set "
            'audio.word_length = "float" for the program, or a lower level for the recordings'
        )
    return np.minimum(words, full_scale - 1.0).astype(np.int32) << (32 - n_bits)
