"""The gain of one fading path: complex Gaussian, with a Gaussian spectrum.

White noise at a low rate passes through a filter whose impulse response is a Gaussian, and is
brought to the rate of the audio by interpolation. The filter is short, so any stretch of a long
process can be made without the rest, and the process knows of no beginning and no end.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.signals.waveform import AnalyticSamples

LEAST_RATE_SPREADS = 6.0
"""Least rate of the noise, in spreads. At half of it the filter passes exp(-9) in amplitude, so
that the gain is stationary to 2e-8 of its power."""
HALF_SUPPORT_SPREADS = 1.4
"""The filter's impulse response is cut so many times 1 / spread from its middle, at 4e-9."""
FINER = 8
"""The filter's output has so many times the noise's rate: at least 48 values for each
1 / spread, from which cubic interpolation errs by -105 dB of the power (rms)."""

MARGIN_S = 120.0
"""A process is drawn for so much longer at both ends: a transmission that reaches into its slot
begins at most its own length before it."""

Taps = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Consecutive samples of a process that begins at sample 0."""

    sample_rate_hz: int
    first_sample: int
    n_samples: int
    process_s: float
    """Length of the process."""


def rayleigh_gain(
    spread_hz: float, stretch: Stretch, generator: np.random.Generator
) -> AnalyticSamples:
    """Complex Gaussian gain of unit mean power over one stretch of a process.

    The same generator state gives the same process, whatever the stretch; rates that differ by
    powers of two share it.

    Args:
        spread_hz: two standard deviations of the *power* spectrum, up to 1/48 of the sample rate.
        stretch: what is wanted; what lies beyond the margins repeats the outermost draws.
        generator: two normal draws for each step of the noise, over the whole process.
    Returns: (n_samples,) complex128.
    Source: power spectrum exp(-f²/2s²), s = spread/2, FACTS B2; so the amplitude response is
        exp(-f²/4s²) and the impulse response exp(-(pi spread t)²), derived here.
    """
    n_per_step = 2 ** math.floor(
        math.log2(stretch.sample_rate_hz / (LEAST_RATE_SPREADS * spread_hz))
    )
    if n_per_step < FINER:
        raise ValueError(f"a spread of {spread_hz:g} Hz needs a higher sample rate")
    noise_rate_hz = stretch.sample_rate_hz / n_per_step
    n_half = math.ceil(HALF_SUPPORT_SPREADS * noise_rate_hz / spread_hz)
    n_before = math.ceil(MARGIN_S * noise_rate_hz) + n_half + 1
    n_inside = math.ceil(stretch.process_s * noise_rate_hz)
    draws = generator.standard_normal((2 * n_before + n_inside, 2)).view(np.complex128)[:, 0]
    # From here on samples and steps count from the first draw.
    first = stretch.first_sample + n_before * n_per_step
    n_per_coarse = n_per_step // FINER
    coarse_first = first // n_per_coarse - 1
    coarse_last = (first + stretch.n_samples - 1) // n_per_coarse + 2
    coarse = _shaped(
        math.sqrt(0.5) * draws,
        _gaussian_taps(spread_hz / noise_rate_hz, n_half),
        coarse_first,
        coarse_last,
    )
    fine = _interpolated(coarse, n_per_coarse)
    skipped = first - (coarse_first + 1) * n_per_coarse
    return fine[skipped : skipped + stretch.n_samples]


def _gaussian_taps(spread: float, n_half: int) -> Taps:
    """(2 n_half, FINER) impulse response at each place between two draws, of unit power.

    Args:
        spread: in units of the noise's rate.
    """
    place = np.arange(FINER) / FINER
    distance = place + (n_half - 1 - np.arange(2 * n_half))[:, None]
    taps: Taps = np.exp(-((math.pi * spread * distance) ** 2))
    taps /= np.sqrt(np.square(taps).sum(axis=0))
    return taps


def _shaped(draws: AnalyticSamples, taps: Taps, first: int, last: int) -> AnalyticSamples:
    """Filtered values number `first` to `last`, both included, FINER to a draw."""
    n_taps = len(taps)
    step_first, step_last = first // FINER, last // FINER
    wanted = np.arange(step_first - n_taps // 2 + 1, step_last + n_taps // 2 + 1)
    used = draws[np.clip(wanted, 0, draws.size - 1)]
    shaped = (_windows(used, n_taps) @ taps.astype(np.complex128)).ravel()
    skipped = first - step_first * FINER
    return shaped[skipped : skipped + last - first + 1]


def _interpolated(coarse: AnalyticSamples, n_per_coarse: int) -> AnalyticSamples:
    """Cubic Lagrange interpolation: from the second value to the last but two."""
    u = np.arange(n_per_coarse) / n_per_coarse
    weights = np.stack(
        [
            -u * (u - 1.0) * (u - 2.0) / 6.0,
            (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0,
            -(u + 1.0) * u * (u - 2.0) / 2.0,
            (u + 1.0) * u * (u - 1.0) / 6.0,
        ]
    )
    fine: AnalyticSamples = (_windows(coarse, 4) @ weights.astype(np.complex128)).ravel()
    return fine


def _windows(values: AnalyticSamples, n: int) -> AnalyticSamples:
    # Contiguous, or the product would be worked out without BLAS.
    return np.ascontiguousarray(np.lib.stride_tricks.sliding_window_view(values, n))
