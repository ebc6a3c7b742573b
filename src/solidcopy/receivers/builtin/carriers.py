"""Take steady carriers out of the long spectrum.

A carrier is a line far narrower than any tone of a transmission. Its slowly changing amplitude
and phase are averaged over `AVERAGING_S` and subtracted, which costs a transmission on the same
frequency no more than a slice of that width. The discrete lines of the mode itself, which come of
a tone that returns with the same phase, stay below `LOWEST_PROMINENCE`: n symbols of one tone
stand out n / ln 2 times at most, and no tone takes more than half of 79 symbols.
"""

from typing import Any

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.receivers.builtin.front_end import LongSpectrum

LOWEST_PROMINENCE = 200.0
"""Power of a line over the median around it. Noise alone reaches 16 in 43 000 bins."""
MEDIAN_SPAN_HZ = 3.0
AVERAGING_S = 3.0
HALF_WIDTH_HZ = 64.0
"""The carrier's own leakage is taken out as far as this on either side (-69 dB at the end)."""
N_MOST_ROUNDS = 4
N_MOST_PER_ROUND = 40
LOWEST_SHARE = 1e-3
"""Weaker lines than this share of the strongest wait for the next round: they may be leakage."""


def find_lines(
    bins: NDArray[np.complex64], bin_hz: float, *, low_hz: float, high_hz: float
) -> NDArray[np.int64]:
    """Bins of lines that stand out, strongest first.

    Args:
        bins: (n_bins,) complex64, one-sided.
        bin_hz: distance of bins.
        low_hz, high_hz: the band looked at.
    """
    n_span = round(MEDIAN_SPAN_HZ / bin_hz)
    first = max(1, round(low_hz / bin_hz))
    n_blocks = min(round(high_hz / bin_hz), bins.size - 1) - first
    n_blocks //= n_span
    if n_blocks < 1:
        return np.empty(0, np.int64)
    band = bins[first - 1 : first + n_blocks * n_span + 1]
    # A raised-cosine window in time, as the sum of three neighbouring bins.
    smooth = band[1:-1] - np.float32(0.5) * (band[:-2] + band[2:])
    powers = np.square(smooth.real) + np.square(smooth.imag)
    middle = n_span // 2
    medians = np.partition(powers.reshape(n_blocks, n_span), middle, axis=1)[:, middle]
    lowest = np.maximum(LOWEST_PROMINENCE * medians, LOWEST_SHARE * powers.max())
    places = np.flatnonzero(powers > np.repeat(lowest, n_span))
    lines: list[int] = []
    for place in places[np.argsort(-powers[places])]:
        if all(abs(int(place) - line) > n_span for line in lines):
            lines.append(int(place))
    return np.asarray(lines[:N_MOST_PER_ROUND], np.int64) + first


def smoothed(samples: NDArray[Any], kernel: NDArray[np.float32]) -> NDArray[Any]:
    """Convolution with a kernel, its middle: as many values as there were samples.

    By two transforms and one back; `scipy.signal`, which has it ready, takes longer to import
    than a receiver to start.
    """
    n_full = samples.size + kernel.size - 1
    first = (kernel.size - 1) // 2
    is_real = np.isrealobj(samples)
    n_points = scipy.fft.next_fast_len(n_full, is_real)
    full: NDArray[Any]
    if is_real:
        product = scipy.fft.rfft(samples, n_points) * scipy.fft.rfft(kernel, n_points)
        full = scipy.fft.irfft(product, n_points)
    else:
        full = scipy.fft.ifft(scipy.fft.fft(samples, n_points) * scipy.fft.fft(kernel, n_points))
    return full[first : first + samples.size]


def _subtract(bins: NDArray[np.complex64], line: int, *, bin_hz: float, heard_s: float) -> None:
    """Subtract the slowly changing carrier around one bin, in place."""
    n_half = round(HALF_WIDTH_HZ / bin_hz)
    low, high = max(0, line - n_half), min(bins.size, line + n_half)
    around = np.zeros(2 * n_half, np.complex64)
    around[low - line + n_half : high - line + n_half] = bins[low:high]
    samples = scipy.fft.ifft(scipy.fft.ifftshift(around), norm="forward")
    n_heard = min(samples.size, int(heard_s * 2 * n_half * bin_hz))
    n_average = round(AVERAGING_S * 2 * n_half * bin_hz)
    kernel = np.hanning(n_average + 2)[1:-1].astype(np.float32)
    heard = samples[:n_heard]
    weight = smoothed(np.ones(n_heard, np.float32), kernel)
    first = smoothed(heard, kernel) / weight
    # The carrier's own frequency first: near the ends the average is one-sided, and would lag.
    step_rad = float(np.angle(np.vdot(first[:-1], first[1:])))
    turn = np.exp(1j * step_rad * np.arange(n_heard)).astype(np.complex64)
    carrier = np.zeros_like(samples)
    carrier[:n_heard] = turn * smoothed(heard * turn.conj(), kernel) / weight
    removed = scipy.fft.fftshift(scipy.fft.fft(carrier, norm="forward"))
    bins[low:high] -= removed[low - line + n_half : high - line + n_half]


def without_carriers(spectrum: LongSpectrum, *, low_hz: float, high_hz: float) -> LongSpectrum:
    """The same spectrum less all carriers in a band; itself where there are none.

    Args:
        spectrum: from `long_spectrum`; not changed.
        low_hz, high_hz: the band.
    """
    cleaned = spectrum
    for _ in range(N_MOST_ROUNDS):
        lines = find_lines(cleaned.bins, cleaned.bin_hz, low_hz=low_hz, high_hz=high_hz)
        if lines.size == 0:
            break
        bins = cleaned.bins.copy()
        for line in lines:
            _subtract(bins, int(line), bin_hz=cleaned.bin_hz, heard_s=cleaned.heard_s)
        cleaned = LongSpectrum(bins, cleaned.bin_hz, cleaned.heard_s)
    return cleaned
