"""Finding the test sequence in a recording: where it begins, and at what rate it is heard."""

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.errors import AudioFileError
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_sequence import (
    CHIRP_HZ,
    SEQUENCE_HZ,
    Piece,
    Sequence,
    sequence,
    swept,
)

GRID_PPM = (-450.0, -300.0, -150.0, 0.0, 150.0, 300.0, 450.0)
"""Rate errors tried: between two of them the chirp keeps nine tenths of its peak."""
MISREAD = (44_100 / 48_000, 48_000 / 44_100, 0.5, 2.0)
"""Samples taken for those of another rate."""
MIN_QUALITY = 6.0
"""Both chirps stand so many times the noise over it; by chance one of 360 000 places reaches 5."""
EXPLAINED = 0.7
"""Height of the peaks over the amplitude of what is heard, beyond which no other rate is tried."""
N_REFINE = 3
SPACING_S = 0.5
"""By so much the two rounds may be off their distance (lost or repeated buffers)."""
MARGIN_S = 0.25
"""Sound kept before and after the sequence."""
RAYLEIGH_MEDIAN = 1.1774
"""Median of a Rayleigh distribution over its sigma, sqrt(2 ln 2)."""
KEPT_SHARE = 3
"""One third of the spectrum, up to 4 kHz, holds all of the chirp."""


@dataclass(frozen=True, slots=True)
class Found:
    """Where the sequence lies in a recording."""

    stretch: float
    """Samples heard per sample sent at the rates that both sides state."""
    start_s: float
    """Its first sample, seconds of the recording's own clock; may be negative."""
    quality: float
    """Height of the weaker chirp's peak over the noise around it."""
    height: float
    """Mean height of both peaks: amplitude of the chirp as heard."""


def find_sequence(heard: Samples, sample_rate_hz: float) -> Found | None:
    """Find both chirps by correlation.

    Args:
        heard: (n_samples,) float64.
        sample_rate_hz: as stated.
    Returns: None if the sequence is not in it.
    """
    at_rate: Samples = resampled(heard, from_hz=sample_rate_hz, to_hz=SEQUENCE_HZ).astype(float)
    search = _Search(at_rate)
    at_once = search.at(1.0)
    if at_once is not None and search.is_explained(at_once[0]):
        tried = [at_once]
    else:
        stretches = [1.0 + ppm * 1e-6 for ppm in GRID_PPM] + list(MISREAD)
        tried = [found for stretch in stretches if (found := search.at(stretch))]
    if not tried:
        return None
    best = max(tried, key=lambda found: found[0].height)
    for _ in range(N_REFINE):
        again = search.at(best[1])
        if again is None or again[0].height <= best[0].height:
            break
        best = again
    return best[0] if best[0].quality >= MIN_QUALITY else None


class _Search:
    """Correlation of one recording with the chirp at any stretch."""

    def __init__(self, heard: Samples) -> None:
        self._n = scipy.fft.next_fast_len(max(heard.size, SEQUENCE_HZ), real=True)
        self._n += -self._n % KEPT_SHARE
        self._spectrum = scipy.fft.rfft(heard - heard.mean(), self._n)[: self._n // KEPT_SHARE]
        self._n_heard = heard.size
        self._heard = heard

    def at(self, stretch: float) -> tuple[Found, float] | None:
        """What is found at a stretch, and the stretch that the distance of both speaks for."""
        first, second = sequence().all_of(Piece.CHIRP)
        template = swept(first.n_samples, CHIRP_HZ, stretch)
        if template.size + (second.start - first.start) * stretch > self._n_heard:
            return None
        energy = float(np.square(template.real).sum())
        shape = scipy.fft.rfft(template.real, self._n)[: self._spectrum.size]
        height = np.abs(scipy.fft.ifft(self._spectrum * shape.conj())) * (2 / KEPT_SHARE / energy)
        height = height[: self._n_heard // KEPT_SHARE]
        n_apart = (second.start - first.start) * stretch / KEPT_SHARE
        pair = _pair(height, n_apart, SPACING_S * SEQUENCE_HZ / KEPT_SHARE)
        if pair is None:
            return None
        early, late = pair
        sigma = max(float(np.median(height)) / RAYLEIGH_MEDIAN, 1e-12)
        start = early * KEPT_SHARE - first.start * stretch
        found = Found(
            stretch,
            start / SEQUENCE_HZ,
            float(min(height[early], height[late])) / sigma,
            float(height[early] + height[late]) / 2.0,
        )
        return found, stretch * (late - early) / n_apart

    def is_explained(self, found: Found) -> bool:
        """Whether the chirp accounts for nearly all that is heard where it is found."""
        place = sequence().all_of(Piece.CHIRP)[0]
        start = round(found.start_s * SEQUENCE_HZ + place.start * found.stretch)
        piece = self._heard[max(start, 0) : start + place.n_samples]
        amplitude = float(np.sqrt(2.0 * np.square(piece).mean())) if piece.size else 0.0
        return found.height > EXPLAINED * amplitude


def _pair(height: NDArray[np.float64], n_apart: float, n_off: float) -> tuple[int, int] | None:
    """The two highest places that are about `n_apart` apart, the highest of all among them."""
    top = int(np.argmax(height))
    pairs = []
    for sign in (-1, 1):
        low = max(round(top + sign * n_apart - n_off), 0)
        high = min(round(top + sign * n_apart + n_off), height.size)
        if high - low > 1:
            pairs.append(low + int(np.argmax(height[low:high])))
    if not pairs:
        return None
    other = max(pairs, key=lambda place: height[place])
    return min(top, other), max(top, other)


def on_sequence_clock(heard: Samples, sample_rate_hz: float, found: Found) -> Samples:
    """The recording at SEQUENCE_HZ of the output's clock, cut to the sequence and its margins.

    Returns: (n_samples,), the sequence's first sample at `MARGIN_S`; silence where the recording
        holds nothing.
    Raises: AudioFileError if it lacks a part between the first and the last tick.
    """
    whole = resampled(heard, from_hz=sample_rate_hz * found.stretch, to_hz=SEQUENCE_HZ)
    plan = sequence()
    start = round((found.start_s / found.stretch - MARGIN_S) * SEQUENCE_HZ)
    _refuse_cut(plan, start, whole.size)
    n_margin = round(MARGIN_S * SEQUENCE_HZ)
    out = np.zeros(plan.left.size + 2 * n_margin)
    first, last = max(start, 0), min(start + out.size, whole.size)
    out[first - start : last - start] = whole[first:last]
    return out


def _refuse_cut(plan: Sequence, start: int, n_there: int) -> None:
    n_margin = round(MARGIN_S * SEQUENCE_HZ)
    ticks = plan.all_of(Piece.TICK)
    first, last = ticks[0].start + start + n_margin, ticks[-1].end + start + n_margin
    if first < 0 or last > n_there:
        missing = "beginning" if first < 0 else "end"
        raise AudioFileError(
            f"the {missing} of the test sequence is missing; record from before it starts until "
            f"it is over ({plan.duration_s:.0f} s)"
        )
