"""Power of samples: over time, within a band, at the peak. Sums are taken in float64.

Powers are mean squares of samples (full scale ±1.0); units.dbfs_from_power puts them in dBFS.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.signals.waveform import Waveform

MIN_BAND_BINS = 8
"""A band of fewer spectrum bins is too coarse to hold a stated power."""

AnySamples = NDArray[np.floating[Any]]
"""Real samples of either float precision, (n_samples,)."""


def mean_power(samples: AnySamples) -> float:
    """Mean square of (n_samples,) samples; 0 for none."""
    if samples.size == 0:
        return 0.0
    # Not np.dot: its threads wait for each other when every core has a trial of its own.
    return float(np.square(samples, dtype=np.float64).sum()) / samples.size


def peak(samples: AnySamples) -> float:
    """Largest magnitude of (n_samples,) samples; 0 for none."""
    if samples.size == 0:
        return 0.0
    return max(float(samples.max()), -float(samples.min()))


def crest_db(samples: AnySamples) -> float:
    """Peak over root mean square, dB (a sine: 3.01); NaN is never returned: 0 for silence."""
    power = mean_power(samples)
    return units.peak_dbfs(peak(samples)) - units.db_from_ratio(power) if power > 0.0 else 0.0


def count_clipped(samples: AnySamples) -> int:
    """Number of samples beyond full scale ±1.0."""
    return int(np.count_nonzero(samples > 1.0)) + int(np.count_nonzero(samples < -1.0))


@dataclass(frozen=True, slots=True, eq=False)
class PowerSpectrum:
    """How the mean power of some samples is shared among frequencies."""

    bin_powers: NDArray[np.floating[Any]]
    """(n_bins,) one-sided; bin k is centred on k * bin_hz; they add up to the mean power."""
    bin_hz: float
    sample_rate_hz: float

    def band_power(self, low_hz: float, high_hz: float) -> float:
        """Mean power between two frequencies; a bin on an edge counts by its share inside.

        Args:
            low_hz, high_hz: 0 <= low_hz < high_hz <= sample_rate_hz / 2.
        Raises: CalibrationError if the band holds fewer than 8 bins; ValueError outside.
        """
        half_rate_hz = self.sample_rate_hz / 2.0
        if not 0.0 <= low_hz < high_hz <= half_rate_hz * (1.0 + 1e-12):
            raise ValueError(f"no band {low_hz:g}-{high_hz:g} Hz below {half_rate_hz:g} Hz")
        if (high_hz - low_hz) / self.bin_hz < MIN_BAND_BINS:
            raise CalibrationError(
                f"a band of {high_hz - low_hz:g} Hz holds fewer than {MIN_BAND_BINS} spectrum "
                f"bins of {self.bin_hz:.3g} Hz; take a wider band or a longer recording"
            )
        # Bins are numbered by their centre; the outermost may stick out and are trimmed below.
        first = math.floor(low_hz / self.bin_hz + 0.5)
        last = min(math.floor(high_hz / self.bin_hz + 0.5), self.bin_powers.size - 1)
        total = float(self.bin_powers[first + 1 : last].sum(dtype=np.float64))
        for place in (first, last):
            bottom_hz = max(place - 0.5, 0.0) * self.bin_hz
            top_hz = min((place + 0.5) * self.bin_hz, half_rate_hz)
            inside_hz = min(top_hz, high_hz) - max(bottom_hz, low_hz)
            if inside_hz > 0.0:
                total += float(self.bin_powers[place]) * inside_hz / (top_hz - bottom_hz)
        return total


def power_spectrum(samples: AnySamples, *, sample_rate_hz: float) -> PowerSpectrum:
    """Rectangular-window power spectrum of a whole stretch of samples (Parseval).

    Args:
        samples: (n_samples,) real, float32 or float64 (the transform keeps the precision;
            float32 is good to 1e-6 of the power). Padded with zeros to a fast length, which
            interpolates between bins and keeps every sum.
        sample_rate_hz: of the samples.
    Source: derived here (Parseval's relation for the discrete transform).
    """
    n_padded = scipy.fft.next_fast_len(samples.size, real=True)
    transform = scipy.fft.rfft(samples, n_padded)
    bin_powers = np.square(transform.real)
    bin_powers += np.square(transform.imag)
    bin_powers *= 2.0 / (n_padded * samples.size)
    bin_powers[0] *= 0.5
    if n_padded % 2 == 0:
        bin_powers[-1] *= 0.5
    return PowerSpectrum(bin_powers, sample_rate_hz / n_padded, sample_rate_hz)


def measure_band_power(waveform: Waveform, *, low_hz: float, high_hz: float) -> float:
    """Mean power between two frequencies.

    Args:
        waveform: real, one channel, full scale ±1.0. Not changed.
        low_hz, high_hz: 0 <= low_hz < high_hz <= sample_rate_hz / 2; a bin on an edge counts
            by its share inside.
    Returns: power in dBFS (0 = full-scale sine); -inf for silence.
    Raises: CalibrationError if the band holds fewer than 8 spectrum bins.
    Exactness: for white noise limited by chance alone, 4.34 / sqrt(bandwidth * duration) dB
        (tests/reference/test_power_against_scipy.py).
    Source: docs/explanation/power.md; derived here.
    """
    spectrum = power_spectrum(
        waveform.samples.astype(np.float64), sample_rate_hz=waveform.sample_rate_hz
    )
    return units.dbfs_from_power(spectrum.band_power(low_hz, high_hz))
