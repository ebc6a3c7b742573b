"""Sound cut into the frames of lossy coders, at every place where a frame may begin.

A coder turns each frame into numbers (a lapped cosine transform) and rounds most of them to zero.
The same transform finds those zeros again in the decoded sound, but only if it begins at the very
sample at which the coder's frames began.
Sources, all from memory: the transforms of ISO/IEC 11172-3 layer III (32 bands, then 18 lines of
each), of ISO/IEC 13818-7 and 14496-3 (2048 samples, Kaiser-Bessel derived window), of the Vorbis I
specification and of RFC 6716. The 512 taps of layer III are replaced by a Kaiser design of the same
length, which is near enough to see zeros by (tests/reference/test_coder_frames.py).
"""

import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.signal import firwin, lfilter

from solidcopy.signals.waveform import Samples

Numbers = NDArray[np.float32]
"""(n_places, n_frames, n_lines) float32: what a coder would have rounded."""
OFFSETS_A_CHUNK = 64
N_BANDS, N_LINES, N_TAPS = 32, 18, 512
BANDS_LOOKED_AT = 24
KAISER_BETA = 9.0
BUTTERFLIES = np.array([-0.6, -0.535, -0.33, -0.185, -0.095, -0.041, -0.0142, -0.0037])
"""Of neighbouring bands of layer III."""
OPUS_RATE_HZ, OPUS_HOP, OPUS_LAP, OPUS_EMPHASIS = 48_000, 960, 120, 0.85


@dataclass(frozen=True, slots=True)
class CoderFrames:
    """How one family of coders cuts sound into frames."""

    name: str
    """For a person."""
    hop: int
    """Samples from one frame to the next."""
    n_extra: int
    """Samples needed beyond one hop for each frame and one for the places."""
    numbers: Callable[[Samples, int], Numbers]
    """Of samples and a number of frames."""


def families(sample_rate_hz: int) -> list[CoderFrames]:
    """The ways of cutting that are tried at a sample rate."""
    plain = [
        ("Vorbis", _power_sine(1024)),
        ("Vorbis", _power_sine(512)),
        ("Vorbis", _power_sine(256)),
        ("AAC", _kaiser_bessel(1024)),
    ]
    found = [_lapped(name, window) for name, window in plain]
    if sample_rate_hz == OPUS_RATE_HZ:
        found.append(_lapped("Opus", _short_lap(OPUS_HOP, OPUS_LAP), OPUS_EMPHASIS))
    found.append(CoderFrames("MP3", N_BANDS * N_LINES, 1152 + N_TAPS, layer_three_numbers))
    return found


def _lapped(name: str, window: Samples, emphasis: float = 0.0) -> CoderFrames:
    def numbers(samples: Samples, n_frames: int) -> Numbers:
        if emphasis:
            samples = lfilter([1.0, -emphasis], [1.0], samples)
        return lapped_numbers(samples, window, n_frames)

    return CoderFrames(name, window.size // 2, window.size // 2, numbers)


def lapped_numbers(samples: Samples, window: Samples, n_frames: int) -> Numbers:
    """Lapped cosine transform from each of the first `hop` samples on (orthonormal)."""
    hop, half = window.size // 2, window.size // 4
    narrow = window.astype(np.float32)
    frames = sliding_window_view(samples.astype(np.float32), window.size)
    starts = np.arange(hop)[:, None] + hop * np.arange(n_frames)[None, :]
    out = np.empty((hop, n_frames, hop), np.float32)
    for first in range(0, hop, OFFSETS_A_CHUNK):
        piece = frames[starts[first : first + OFFSETS_A_CHUNK]] * narrow
        a, b = piece[..., :half], piece[..., half:hop]
        c, d = piece[..., hop : hop + half], piece[..., hop + half :]
        folded = np.concatenate((-c[..., ::-1] - d, a - b[..., ::-1]), axis=-1)
        out[first : first + OFFSETS_A_CHUNK] = scipy.fft.dct(folded, type=4, norm="ortho", axis=-1)
    return out


def layer_three_numbers(samples: Samples, n_frames: int) -> Numbers:
    """The lines of the lower bands of each granule, from each of the first 576 samples on."""
    hop = N_BANDS * N_LINES
    out = np.empty((hop, n_frames, BANDS_LOOKED_AT, N_LINES), np.float32)
    filters = _band_filters()[:, :BANDS_LOOKED_AT].astype(np.float32)
    lines = _line_windows().astype(np.float32)
    n_steps = N_LINES * (n_frames + 2)
    pieces = sliding_window_view(samples.astype(np.float32), N_TAPS)
    for shift in range(N_BANDS):
        bands = pieces[shift : shift + N_BANDS * n_steps : N_BANDS].copy() @ filters
        # (places, frames, bands, 36): every one of 18 steps, and whole granules from there.
        every = sliding_window_view(bands, 2 * N_LINES, axis=0)[: N_LINES * n_frames]
        windows = every.reshape(n_frames, N_LINES, BANDS_LOOKED_AT, -1).copy()
        windows[:, :, 1::2, 1::2] *= -1.0  # odd bands lie the wrong way round
        found = (windows.reshape(-1, 2 * N_LINES) @ lines).reshape(*windows.shape[:3], N_LINES)
        out[shift::N_BANDS] = _crossed(found.swapaxes(0, 1))
    return out.reshape(hop, n_frames, -1)


def _crossed(numbers: Numbers) -> Numbers:
    """(places, frames, bands, lines) with the butterflies between neighbouring bands."""
    size = np.sqrt(1.0 + BUTTERFLIES**2)
    straight, across = (1.0 / size).astype(np.float32), (BUTTERFLIES / size).astype(np.float32)
    lower = numbers[..., :-1, : -len(size) - 1 : -1].copy()
    upper = numbers[..., 1:, : len(size)].copy()
    numbers[..., :-1, : -len(size) - 1 : -1] = lower * straight + upper * across
    numbers[..., 1:, : len(size)] = upper * straight - lower * across
    return numbers


@functools.cache
def _band_filters() -> Samples:
    """(taps, bands): 32 bands by one low-pass turned to each; the oldest sample first."""
    taps = _half_band_low_pass()
    at = np.arange(N_TAPS) - 16
    turns = np.cos(np.outer(at, 2 * np.arange(N_BANDS) + 1) * np.pi / (2 * N_BANDS))
    return np.ascontiguousarray((turns * taps[:, None])[::-1])


def _half_band_low_pass() -> Samples:
    """Taps whose gain is down 3 dB half a band up, as neighbouring bands must share power."""
    turn = np.exp(-1j * np.pi / (2 * N_BANDS) * np.arange(N_TAPS))
    low, high = 0.5 / (2 * N_BANDS), 2.0 / (2 * N_BANDS)
    for _ in range(50):
        middle = (low + high) / 2.0
        taps = firwin(N_TAPS + 1, middle, window=("kaiser", KAISER_BETA))[:N_TAPS]
        is_wide = abs(np.sum(taps * turn)) > np.sqrt(0.5) * taps.sum()
        low, high = (low, middle) if is_wide else (middle, high)
    return np.asarray(taps / np.sqrt(np.sum(taps**2)), np.float64)


def _line_windows() -> Samples:
    """(36, 18): sine window and cosines."""
    at, line = np.arange(2 * N_LINES), np.arange(N_LINES)
    turns = np.cos(np.pi / 72.0 * np.outer(2 * at + 1 + N_LINES, 2 * line + 1))
    return np.asarray(turns * np.sin(np.pi / 36.0 * (at + 0.5))[:, None] / 3.0)


def _power_sine(hop: int) -> Samples:
    at = np.arange(2 * hop) + 0.5
    return np.asarray(np.sin(np.pi / 2.0 * np.sin(np.pi * at / (2 * hop)) ** 2))


def _kaiser_bessel(hop: int) -> Samples:
    sums = np.cumsum(np.kaiser(hop + 1, 4.0 * np.pi))
    rise = np.sqrt(sums[:-1] / sums[-1])
    return np.concatenate((rise, rise[::-1]))


def _short_lap(hop: int, lap: int) -> Samples:
    """Frames that overlap by less than their length."""
    rise = _power_sine(lap)[:lap]
    flat = np.ones(hop - lap)
    none = np.zeros((hop - lap) // 2)
    return np.concatenate((none, rise, flat, rise[::-1], none))
