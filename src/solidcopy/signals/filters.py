"""Linear-phase band filters whose skirts are stated: how far down, how far beyond the edge."""

import functools
import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.special
from numpy.typing import NDArray

from solidcopy.errors import CalibrationError
from solidcopy.signals.waveform import AnalyticSamples, Samples

SKIRT_DB = 60.0
"""Attenuation at the foot of a skirt, unless said otherwise."""

Taps = NDArray[np.float64]
"""Coefficients of a linear-phase filter, (odd n_taps,) float64; its delay is (n_taps - 1) / 2."""


@dataclass(frozen=True, slots=True)
class Band:
    """A pass band: half the amplitude (-6 dB) at its edges, `attenuation_db` down at the feet.

    The feet lie `skirt_hz` beyond the edges.
    """

    low_hz: float
    high_hz: float
    skirt_hz: float
    attenuation_db: float = SKIRT_DB

    def __post_init__(self) -> None:
        if not 0.0 <= self.low_hz < self.high_hz:
            raise ValueError(f"no band between {self.low_hz:g} and {self.high_hz:g} Hz")
        if self.skirt_hz <= 0.0:
            raise ValueError(f"skirt_hz must be positive, not {self.skirt_hz:g}")

    @property
    def feet_hz(self) -> tuple[float, float]:
        """Frequencies beyond which next to nothing is left."""
        return self.low_hz - self.skirt_hz, self.high_hz + self.skirt_hz


def fitting_band(low_hz: float, high_hz: float, *, skirt_hz: float, sample_rate_hz: float) -> Band:
    """A band that fits between 0 Hz and half the sample rate, skirts included.

    Raises: CalibrationError that says what was asked and what exists.
    """
    if low_hz - skirt_hz < 0.0 or high_hz + skirt_hz > sample_rate_hz / 2.0:
        raise CalibrationError(
            f"a band of {low_hz:g} to {high_hz:g} Hz with skirts of {skirt_hz:g} Hz is asked; "
            f"only 0 to {sample_rate_hz / 2.0:g} Hz exist at {sample_rate_hz:g} samples per "
            "second; move or narrow the band, or raise audio.sample_rate_hz"
        )
    return Band(low_hz, high_hz, skirt_hz)


@functools.lru_cache(maxsize=64)
def low_pass_taps(
    *, edge_hz: float, skirt_hz: float, attenuation_db: float, sample_rate_hz: float
) -> Taps:
    """Kaiser-windowed low-pass: -6 dB at `edge_hz`, `attenuation_db` down `skirt_hz` beyond.

    Returns: (odd n_taps,) read-only float64, unit gain at 0 Hz.
    Raises: ValueError below 50 dB, where Kaiser's beta follows another formula.
    Source: Kaiser's window and his formulas for beta and length, as in any text on digital
        filters (from memory); tests/reference/test_filters_against_scipy.py compares.
    """
    if attenuation_db <= 50.0:
        raise ValueError(f"attenuation_db must be above 50, not {attenuation_db:g}")
    beta = 0.1102 * (attenuation_db - 8.7)
    # The skirt is twice as wide in all, in shares of the half rate.
    transition = 2.0 * skirt_hz / (sample_rate_hz / 2.0)
    n_taps = math.ceil((attenuation_db - 7.95) / 2.285 / (math.pi * transition) + 1.0) | 1
    half = 0.5 * (n_taps - 1)
    place = np.arange(n_taps) - half
    edge = edge_hz / (0.5 * sample_rate_hz)
    window = scipy.special.i0(beta * np.sqrt(1.0 - (place / half) ** 2)) / scipy.special.i0(beta)
    taps: Taps = edge * np.sinc(edge * place) * window
    taps /= taps.sum()
    taps.flags.writeable = False
    return taps


def band_taps(band: Band, *, sample_rate_hz: float) -> Taps:
    """Coefficients of a band filter, unit gain in the middle of a band wider than its skirts."""
    prototype = low_pass_taps(
        edge_hz=(band.high_hz - band.low_hz) / 2.0,
        skirt_hz=band.skirt_hz,
        attenuation_db=band.attenuation_db,
        sample_rate_hz=sample_rate_hz,
    )
    place = np.arange(prototype.size) - prototype.size // 2
    middle_rad = math.pi * (band.low_hz + band.high_hz) / sample_rate_hz
    shifted: Taps = 2.0 * prototype * np.cos(middle_rad * place)
    return shifted


def filtered_inside(samples: Samples, taps: Taps) -> Samples:
    """Only where the filter is full: (n_samples,) in, (n_samples - n_taps + 1,) out."""
    # Here and not above, as in `convolved`: this import takes longer than all others together,
    # and most processes never need it.
    from scipy.signal import oaconvolve  # noqa: PLC0415

    out: Samples = oaconvolve(samples, taps, mode="valid")
    return out


def convolved(analytic: AnalyticSamples, impulse: Samples) -> AnalyticSamples:
    """All of a convolution: (n,) and (m,) in, (n + m - 1,) out."""
    from scipy.signal import oaconvolve  # noqa: PLC0415

    out: AnalyticSamples = oaconvolve(analytic, impulse)
    return out


@dataclass(frozen=True, slots=True)
class NoiseFigures:
    """What a filter makes of white noise of unit variance."""

    mean_power: float
    effective_bandwidth_hz: float
    """Of the rectangle whose noise power fluctuates alike: (sum of |H|^2)^2 / sum of |H|^4."""

    def relative_spread(self, duration_s: float) -> float:
        """Standard deviation of the mean power over `duration_s`, over the expected power.

        Source: derived here: a band B holds 2BT independent values in a time T, and the mean
        square of n of them has a relative standard deviation of sqrt(2 / n) = 1 / sqrt(BT).
        """
        return 1.0 / math.sqrt(self.effective_bandwidth_hz * duration_s)


def noise_figures(taps: Taps, *, sample_rate_hz: float) -> NoiseFigures:
    """Expected power and effective bandwidth of white noise behind a filter."""
    response = np.abs(scipy.fft.rfft(taps, scipy.fft.next_fast_len(2 * taps.size))) ** 2
    bin_hz = sample_rate_hz / 2.0 / (response.size - 1)
    bandwidth_hz = bin_hz * float(response.sum()) ** 2 / float(np.square(response).sum())
    return NoiseFigures(float(np.dot(taps, taps)), bandwidth_hz)
