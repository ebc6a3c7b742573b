"""One channel of a recording as a waveform."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.errors import AudioFileError
from solidcopy.noise.reading.answers import Side
from solidcopy.noise.reading.sound import Sound
from solidcopy.signals.filters import convolved, low_pass_taps
from solidcopy.signals.sound_file.facts import Frames
from solidcopy.signals.waveform import Samples, Waveform

IQ_SKIRT_HZ = 100.0
"""One side of an I/Q recording is whole this far from 0 Hz and from half the sample rate."""


def mono(sound: Sound, start_s: float = 0.0, length_s: float | None = None) -> Waveform:
    """A stretch of the recording as one channel.

    Args:
        sound: opened.
        start_s: seconds from the start.
        length_s: seconds; to the end if left out. Shorter where the recording ends.
    Returns: float32 at the file's own rate, full scale ±1.0 (float files may go beyond); the
        chosen channel, the mean of all for "sum", or one side of an I/Q recording as audio
        (0 Hz = the centre frequency).
    Raises: AudioFileError if it is open which channel is meant, if the stretch lies outside,
        or if it holds NaN or infinite samples.
    """
    question = sound.question
    if sound.is_open and question is not None:
        raise AudioFileError(f"{sound.path}: {sound.relation.sentence}. {question.sentence}")
    start = round(start_s * sound.sample_rate_hz)
    n_wanted = sound.n_samples if length_s is None else round(length_s * sound.sample_rate_hz)
    n_samples = min(n_wanted, sound.n_samples - start)
    if start < 0 or n_samples <= 0:
        raise AudioFileError(
            f"{sound.path}: lasts {sound.duration_s:.2f} s; there is nothing from {start_s:g} s on"
        )
    if sound.answers.iq is not None:
        samples = _one_side(sound, start, n_samples, sound.answers.iq)
    else:
        frames = sound.read(start, n_samples)
        samples = frames.mean(axis=0) if sound.channel is None else frames[sound.channel]
    bad = np.flatnonzero(~np.isfinite(samples))
    if bad.size:
        raise AudioFileError(
            f"{sound.path}: a sample is no number (NaN or infinite) at "
            f"{(start + int(bad[0])) / sound.sample_rate_hz:.3f} s; export it again"
        )
    return Waveform(samples.astype(np.float32), sound.sample_rate_hz)


def _one_side(sound: Sound, start: int, n_samples: int, side: Side) -> Samples:
    """What lies on one side of the centre frequency, as a receiver for that sideband gives it.

    The spectrum is turned down by a quarter of the sample rate, low-passed and turned back; the
    real part of a tone of amplitude A is a tone of amplitude A. Derived here.
    """
    taps = low_pass_taps(
        edge_hz=sound.sample_rate_hz / 4.0 - IQ_SKIRT_HZ,
        skirt_hz=IQ_SKIRT_HZ,
        attenuation_db=80.0,
        sample_rate_hz=float(sound.sample_rate_hz),
    )
    n_margin = taps.size // 2
    frames = _with_margin(sound, start - n_margin, n_samples + 2 * n_margin)
    turned = frames[0] + (1j if side == Side.UPPER else -1j) * frames[1]
    quarters = _quarter_turns(turned.size)
    filtered = convolved(turned * quarters.conj(), taps)[2 * n_margin : 2 * n_margin + n_samples]
    back = quarters[n_margin : n_margin + n_samples]
    audio: Samples = (filtered * back).real
    return audio


def _quarter_turns(n_samples: int) -> NDArray[np.complex128]:
    return np.resize(np.array([1.0, 1j, -1.0, -1j]), n_samples)


def _with_margin(sound: Sound, start: int, n_samples: int) -> Frames:
    """As `read`, with zeros where the recording has not begun or has ended."""
    first = max(start, 0)
    frames = sound.read(first, start + n_samples - first)
    n_before = first - start
    return np.pad(frames, ((0, 0), (n_before, n_samples - n_before - frames.shape[1])))
