"""Power spectrum of a whole recording by averaged, overlapping, windowed segments.

Calibrated so that white noise reads its density and a line its power, and good for a recording
of any length: it goes through the samples once, some segments at a time.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.special
import scipy.stats
from numpy.lib.stride_tricks import sliding_window_view

from solidcopy import units
from solidcopy.noise.features.figure import FloatArray
from solidcopy.signals.power import AnySamples

HANN_NOISE_BINS = 1.5
"""Noise bandwidth of the Hann window in bins: mean square over squared mean, (3/8) / (1/2)^2."""
HANN_HALF_OVERLAP = 1.0 / 36.0
"""Squared correlation of two Hann windows shifted by half their length: (1/6)^2."""
BATCH_SAMPLES = 1 << 20
"""Segments are transformed so many samples at a time."""
MAX_CHUNKS = 16
"""A recording is parted into at most so many stretches of time to see what moves."""


@dataclass(frozen=True, slots=True, eq=False)
class Spectrum:
    """Mean density of power over frequency, and the same in stretches of time."""

    densities: FloatArray
    """(n_bins,) power (samples squared) per Hz, one-sided; bin k is centred on k * bin_hz."""
    bin_hz: float
    n_averages: float
    """Independent segments that the averaged ones are worth."""
    chunk_densities: FloatArray
    """(n_chunks, n_bins) of equal stretches of time."""
    chunk_centres_s: FloatArray
    """(n_chunks,)."""

    @property
    def noise_bandwidth_hz(self) -> float:
        """Of one bin: how much white noise passes it."""
        return HANN_NOISE_BINS * self.bin_hz

    @property
    def frequencies_hz(self) -> FloatArray:
        """(n_bins,)."""
        return self.bin_hz * np.arange(self.densities.size, dtype=np.float64)

    def densities_dbfs_per_hz(self) -> FloatArray:
        """(n_bins,) dBFS in 1 Hz; -inf where there is nothing."""
        return units.dbfs_from_powers(self.densities)

    def interval_db(self, confidence: float = 0.95) -> tuple[float, float]:
        """What to add to a reading of noise for the ends of an interval about its true density.

        Source: 2 n reading / truth is chi-square distributed with 2 n degrees of freedom, for n
            independent averages (textbook, from memory).
        """
        tail = (1.0 - confidence) / 2.0
        n_free = 2.0 * self.n_averages
        high, low = (float(scipy.stats.chi2.isf(p, n_free)) for p in (tail, 1.0 - tail))
        return units.db_from_ratio(n_free / high), units.db_from_ratio(n_free / low)

    def power_between(self, low_hz: float, high_hz: float) -> float:
        """Mean power of the bins whose centres lie from `low_hz` to `high_hz`."""
        first, last = math.ceil(low_hz / self.bin_hz), math.floor(high_hz / self.bin_hz)
        return float(self.densities[max(first, 0) : last + 1].sum()) * self.bin_hz


def segment_powers(
    samples: AnySamples, n_segment: int, *, mean: float = 0.0
) -> Iterator[FloatArray]:
    """Power of half-overlapping Hann segments in order, batch by batch: (n_in_batch, n_bins).

    A value is the one-sided density times the sample rate; the ends, which lie in fewer segments,
    are padded with nothing. Fewer samples than a segment yield nothing.
    """
    window = 0.5 - 0.5 * np.cos(2.0 * math.pi * np.arange(n_segment) / n_segment)
    scale = 2.0 / float(np.square(window).sum())
    n_hop = n_segment // 2
    n_batch = max(1, BATCH_SAMPLES // n_segment)
    n_segments = (samples.size - n_segment) // n_hop + 1
    for first in range(0, n_segments, n_batch):
        last = min(first + n_batch, n_segments)
        part = samples[first * n_hop : (last - 1) * n_hop + n_segment].astype(np.float64) - mean
        segments = sliding_window_view(part, n_segment)[::n_hop] * window
        transform = scipy.fft.rfft(segments, axis=1)
        powers = np.square(transform.real)
        powers += np.square(transform.imag)
        powers *= scale
        powers[:, 0] *= 0.5
        if n_segment % 2 == 0:
            powers[:, -1] *= 0.5
        yield powers


def independent_averages(n_segments: int) -> float:
    """How many independent segments half-overlapping Hann segments are worth.

    Source: derived here: n / (1 + 2 c (n - 1) / n), c the squared correlation of neighbours.
    """
    return n_segments / (1.0 + 2.0 * HANN_HALF_OVERLAP * (n_segments - 1) / n_segments)


def measure_spectrum(
    samples: AnySamples, *, sample_rate_hz: float, segment_s: float, mean: float = 0.0
) -> Spectrum:
    """Welch's averaged spectrum.

    Args:
        samples: (n_samples,) real, at least one segment long.
        sample_rate_hz, segment_s: bins lie about 1 / segment_s apart.
        mean: taken off first.
    Source: P. D. Welch, 1967 (from memory); tests/reference compares with scipy.
    """
    n_segment = 2 * scipy.fft.next_fast_len(round(segment_s * sample_rate_hz / 2.0), real=True)
    n_segment = min(n_segment, samples.size // 2 * 2)
    n_hop = n_segment // 2
    n_segments = (samples.size - n_segment) // n_hop + 1
    n_chunks = min(MAX_CHUNKS, max(1, n_segments // 4))
    sums = np.zeros((n_chunks, n_segment // 2 + 1))
    chunk_of = np.arange(n_segments) * n_chunks // n_segments
    done = 0
    for powers in segment_powers(samples, n_segment, mean=mean):
        chunks = chunk_of[done : done + powers.shape[0]]
        for chunk in range(int(chunks[0]), int(chunks[-1]) + 1):
            sums[chunk] += powers[chunks == chunk].sum(axis=0)
        done += powers.shape[0]
    counts = np.bincount(chunk_of, minlength=n_chunks)
    middles = (np.arange(n_segments) * n_hop + n_segment / 2.0) / sample_rate_hz
    return Spectrum(
        densities=sums.sum(axis=0) / (n_segments * sample_rate_hz),
        bin_hz=sample_rate_hz / n_segment,
        n_averages=independent_averages(n_segments),
        chunk_densities=sums / (counts[:, None] * sample_rate_hz),
        chunk_centres_s=np.bincount(chunk_of, weights=middles) / counts,
    )
