"""A piece of a recording, made over into a file that every browser plays."""

import io

import numpy as np
import soundfile

from solidcopy.actions.workspace import Workspace
from solidcopy.errors import AudioFileError
from solidcopy.noise.reading import open_sound
from solidcopy.signals.sample_count import rounded_to_16_bits

LONGEST_S = 120.0
MOST_VALUES = 24_000_000
"""Samples times channels of one piece: two minutes of two channels at 96 kHz, and about that."""
MOST_CHANNELS = 2


def sound_piece(space: Workspace, name: str, start_s: float, length_s: float) -> bytes:
    """A piece as 16-bit WAV at the recording's own rate, its first two channels at most.

    What is beyond full scale turns the whole piece down, so that nothing is clipped.

    Args:
        start_s: from the start of the recording.
        length_s: shorter where the recording ends; at most `LONGEST_S`.
    Raises: NotThereError; AudioFileError if it cannot be read, or if nothing is there.
    """
    with open_sound(space.recording(name)) as sound:
        start = round(start_s * sound.sample_rate_hz)
        n_most = MOST_VALUES // sound.n_channels
        n_samples = min(round(min(length_s, LONGEST_S) * sound.sample_rate_hz), n_most)
        if not 0 <= start < sound.n_samples or n_samples < 1:
            raise AudioFileError(
                f"{name}: lasts {sound.duration_s:.2f} s; there is nothing from {start_s:g} s on"
            )
        frames = np.nan_to_num(sound.read(start, n_samples)[:MOST_CHANNELS])
        rate_hz = sound.sample_rate_hz
    peak = float(np.abs(frames).max(initial=0.0))
    values = rounded_to_16_bits((frames / max(peak, 1.0)).T)
    file = io.BytesIO()
    soundfile.write(file, values, rate_hz, format="WAV", subtype="PCM_16")
    return file.getvalue()
