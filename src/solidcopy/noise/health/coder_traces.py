"""Whether a sound once went through a lossy coder, though its file does not say so.

At the one place at which the coder's frames began, far more of its numbers are next to zero than
at any other. Any other sound knows no such place: whatever it is, its best place is hardly better
than its second best. Derived here; rates of hits and false alarms are in docs/accuracy.md.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from solidcopy.noise.health.coder_frames import CoderFrames, Numbers, families
from solidcopy.signals.waveform import Samples

N_PIECES = 3
"""Places in a recording that are looked at together."""
FRAMES_A_PIECE = 2
NEXT_TO_ZERO = 0.02
"""Of the rms of the numbers beside it: 1.6 % of the numbers of noise are so small."""
LINES_BESIDE = 15
MIN_LINES = 16
MAX_LINES = 400
"""The lowest; radio noise has most of its power there."""
ABOVE_ROUNDING = 100.0
"""Numbers of less power, by the rounding noise of the words, say nothing."""
FLOAT_FLOOR = 1e-9
"""Of the strongest line, where there are no words: floats often hold what once had 16 bits."""
TREND_PLACES = 41
PEAK_PLACES = 4
MIN_LEAD = 2.7
"""The best place over the fourth best."""
MIN_DEVIATIONS = 8.0
"""Of a count like the usual one (Poisson)."""
MIN_SPREADS = 6.0
"""The best place over what places scatter by."""

Reader = Callable[[int, int], Samples]
"""Samples of one channel, from a place, so many."""


@dataclass(frozen=True, slots=True)
class CoderTrace:
    """The frames of a coder, found in a sound."""

    family: str
    hop: int
    share: float
    """Of its numbers that are next to zero at the frames' own place."""
    usual_share: float
    """The same at any other place."""
    lead: float
    """How far the best place is ahead of the next best, as a ratio."""


def coder_trace(
    read: Reader, n_samples: int, *, sample_rate_hz: int, step: float | None
) -> CoderTrace | None:
    """The clearest trace of a lossy coder, if there is one.

    Args:
        read: gives samples; any scale.
        n_samples: of the sound.
        sample_rate_hz: of the sound; after a change of rate no trace is left.
        step: distance of neighbouring values; None for floats.
    """
    found = [
        trace
        for frames in families(sample_rate_hz)
        if (trace := _trace(read, n_samples, frames, step)) is not None
    ]
    return max(found, key=lambda trace: trace.lead, default=None)


def _trace(
    read: Reader, n_samples: int, frames: CoderFrames, step: float | None
) -> CoderTrace | None:
    n_piece = frames.hop * (FRAMES_A_PIECE + 1) + frames.n_extra
    n_pieces = min(N_PIECES, n_samples // n_piece)
    if n_pieces == 0:
        return None
    n_hops = (n_samples - n_piece) // frames.hop
    counts = []
    for piece in range(n_pieces):
        # Whole hops from the start, so that all pieces share one place.
        start = (piece + 1) * n_hops // (n_pieces + 1) * frames.hop
        samples = read(start, n_piece)
        if samples.size < n_piece or not _has_lines(samples, step):
            continue
        counts.append(_next_to_zero(frames.numbers(samples, FRAMES_A_PIECE), step))
    if not counts:
        return None
    near, told = np.sum(counts, axis=0)
    if not told.all():
        return None
    trace = _judged(near / told, frames)
    if trace is None or not _is_beyond_chance(trace, float(np.median(told))):
        return None
    return trace


def _has_lines(samples: Samples, step: float | None) -> bool:
    """Whether enough of the spectrum stands above the rounding; pure tones say nothing."""
    window = np.hanning(samples.size)
    powers = np.square(np.abs(scipy.fft.rfft((samples - samples.mean()) * window)))
    floor = _floor(float(powers.max()), step, float(np.square(window).sum()))
    return bool(np.count_nonzero(powers > ABOVE_ROUNDING * floor) >= MIN_LINES)


def _floor(highest: float, step: float | None, gain: float = 1.0) -> float:
    """Power of a line by rounding alone."""
    return FLOAT_FLOOR * highest if step is None else gain * step**2 / 12.0


def _next_to_zero(
    numbers: Numbers, step: float | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """At each place: numbers next to zero, and numbers that could have been."""
    powers = np.square(numbers[..., :MAX_LINES])
    mean = powers.mean(axis=(0, 1), dtype=np.float64)
    floor = _floor(float(mean.max()), step)
    lines = np.flatnonzero(mean > ABOVE_ROUNDING * floor)
    if lines.size < MIN_LINES:
        none = np.zeros(numbers.shape[0])
        return none, none
    beside = uniform_filter1d(mean[lines], LINES_BESIDE).astype(np.float32)
    powers = powers[..., lines] / beside
    level = powers.mean(axis=-1, keepdims=True)  # a frame may be louder than the mean of all
    is_told = level * beside > ABOVE_ROUNDING * floor
    is_near = is_told & (powers < NEXT_TO_ZERO**2 * level)
    return (
        np.count_nonzero(is_near, axis=(1, 2)).astype(np.float64),
        np.count_nonzero(is_told, axis=(1, 2)).astype(np.float64),
    )


def _is_beyond_chance(trace: CoderTrace, n_told: float) -> bool:
    """Whether counts as large as these do not come by themselves, however few they are."""
    usual = trace.usual_share * n_told
    return trace.share * n_told - usual > MIN_DEVIATIONS * math.sqrt(usual + 1.0)


def _judged(shares: NDArray[np.float64], frames: CoderFrames) -> CoderTrace | None:
    above = shares - median_filter(shares, TREND_PLACES, mode="wrap")
    best = int(above.argmax())
    spread = 1.4826 * float(np.median(np.abs(above - np.median(above))))
    rest = above.copy()
    for _ in range(N_PIECES):  # a change of frame length may give each piece a place of its own
        place = int(rest.argmax())
        rest[np.arange(place - PEAK_PLACES, place + PEAK_PLACES + 1) % rest.size] = -np.inf
    lead = float(above[best]) / max(float(rest.max()), spread, 1e-9)
    if lead < MIN_LEAD or above[best] < MIN_SPREADS * spread:
        return None
    return CoderTrace(frames.name, frames.hop, float(shares[best]), float(np.median(shares)), lead)
