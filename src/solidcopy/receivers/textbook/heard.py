"""One window of audio as a spectrum, out of which any channel can be taken."""

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.signals.waveform import AnalyticSamples, Samples, Waveform

NOISE_BAND_HZ = (200.0, 2700.0)


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """The whole window at once."""

    bins: AnalyticSamples
    """(n_bins,) one-sided spectrum."""
    bin_hz: float
    noise_density: float
    """Power per Hz of complex noise in a channel: the median of the band, so that a signal that
    fills less than half of it counts little."""

    @classmethod
    def of(cls, waveform: Waveform) -> Self:
        """The spectrum of a window; nothing is left out."""
        samples = waveform.samples.astype(np.float64)
        bins = scipy.fft.rfft(samples) * (2.0 / samples.size)
        bin_hz = waveform.sample_rate_hz / samples.size
        low, high = (round(edge / bin_hz) for edge in NOISE_BAND_HZ)
        # The median of an exponential distribution is ln 2 of its mean.
        median = float(np.median(np.abs(bins[low:high]) ** 2)) / math.log(2.0)
        return cls(bins, bin_hz, max(median / bin_hz, 1e-30))

    def powers(self, width_hz: float) -> Samples:
        """(n_bins,) power within `width_hz` about each bin, over that of the noise there."""
        half = max(round(width_hz / 2.0 / self.bin_hz), 0)
        running = np.cumsum(np.pad(np.abs(self.bins) ** 2, (half + 1, half)))
        within = running[2 * half + 1 :] - running[: -2 * half - 1]
        return np.asarray(within / ((2 * half + 1) * self.bin_hz * self.noise_density))

    def bin_of(self, frequency_hz: float) -> int:
        """The nearest bin."""
        return round(frequency_hz / self.bin_hz)

    def channel(self, centre_hz: float, rate_hz: float) -> AnalyticSamples:
        """What lies about a frequency, taken to 0 Hz, noise of power 1 in each sample.

        Args:
            centre_hz: any.
            rate_hz: of the samples, to the nearest that gives a whole number in the window.
        Returns: (round(rate_hz / bin_hz),); the first sample is the window's edge.
        """
        n_samples = round(rate_hz / self.bin_hz)
        first = self.bin_of(centre_hz) - n_samples // 2
        taken = np.zeros(n_samples, np.complex128)
        low, high = max(first, 0), min(first + n_samples, self.bins.size)
        taken[low - first : high - first] = self.bins[low:high]
        spectrum = np.roll(taken, -(n_samples // 2))
        channel = scipy.fft.ifft(spectrum, norm="forward")
        # The bin nearest to the frequency is at 0 Hz; the rest of the way is turned in time.
        left_hz = centre_hz - self.bin_of(centre_hz) * self.bin_hz
        times = np.arange(n_samples) / n_samples / self.bin_hz
        scale = math.sqrt(self.noise_density * n_samples * self.bin_hz)
        return np.asarray(channel * np.exp(-2j * np.pi * left_hz * times) / scale)


def loudest_run(values: NDArray[np.float64]) -> tuple[int, int, float]:
    """The run of neighbours with the largest sum: its first, one past its last, and the sum.

    Source: textbook (maximum sum of a run, in one pass).
    """
    sums = np.concatenate([[0.0], np.cumsum(values)])
    lowest = np.minimum.accumulate(sums)
    stop = int((sums - lowest).argmax())
    start = int(sums[: stop + 1].argmin())
    return start, stop, float(sums[stop] - sums[start])


def run_sums(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n_rows,) the largest sum of a run of neighbours in each of (n_rows, n) values."""
    sums = np.cumsum(np.pad(rows, ((0, 0), (1, 0))), axis=1)
    return np.asarray((sums - np.minimum.accumulate(sums, axis=1)).max(axis=1))


def halfway(energies: NDArray[np.float64], *, noise: float, n_smooth: int) -> float:
    """Between the mean of noise alone and that of the signal, taken where it is loudest.

    Args:
        energies: (n,) in turn.
        noise: mean where there is no signal.
        n_smooth: neighbours averaged.
    """
    smooth = np.convolve(energies, np.ones(n_smooth) / n_smooth, "valid")
    return 0.5 * (noise + float(np.percentile(smooth, 90)))
