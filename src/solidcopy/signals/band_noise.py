"""Gaussian noise of a stated spectrum, drawn where the spectrum is and nowhere else."""

import math

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.signals.filters import Band, NoiseFigures
from solidcopy.signals.waveform import Samples

GUARD_SKIRT_TIMES = 4.0
"""The noise is made longer than needed by so many times 1 / skirt, and cut: a transform repeats
in a circle, and the two ends of what is kept must not know of each other."""


def skirted_amplitude(band: Band, frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Amplitude response 0..1, raised-cosine skirts: half (-6 dB) at the edges, 0 at the feet."""
    middle_hz = (band.low_hz + band.high_hz) / 2.0
    half_width_hz = (band.high_hz - band.low_hz) / 2.0
    beyond_hz = np.abs(frequency_hz - middle_hz) - half_width_hz
    into_skirt = np.clip(beyond_hz / band.skirt_hz, -1.0, 1.0)
    amplitude: NDArray[np.float64] = 0.5 - 0.5 * np.sin(math.pi / 2.0 * into_skirt)
    return amplitude


def band_limited_noise(
    band: Band, *, n_samples: int, sample_rate_hz: float, generator: np.random.Generator
) -> tuple[Samples, NoiseFigures]:
    """Gaussian noise with the spectrum of a band.

    Args:
        band: must fit between 0 Hz and half the sample rate, feet included.
        n_samples, sample_rate_hz: of the wanted stretch.
        generator: two normal draws for each spectrum line within the feet.
    Returns: (n_samples,) noise, and its expected power and effective bandwidth, exact.
    Source: derived here. Independent normal real and imaginary parts on every line make a
        stationary Gaussian process whose mean power is the sum of the lines' powers.
    """
    n_guard = math.ceil(GUARD_SKIRT_TIMES * sample_rate_hz / band.skirt_hz)
    n_made = scipy.fft.next_fast_len(n_samples + n_guard, real=True)
    bin_hz = sample_rate_hz / n_made
    low_hz, high_hz = band.feet_hz
    first, last = max(math.ceil(low_hz / bin_hz), 1), math.floor(high_hz / bin_hz)
    amplitude = skirted_amplitude(band, bin_hz * np.arange(first, last + 1, dtype=np.float64))
    lines = np.zeros(n_made // 2 + 1, dtype=np.complex128)
    parts = generator.standard_normal((2, amplitude.size)) * amplitude
    lines[first : last + 1] = parts[0] + 1j * parts[1]
    samples: Samples = scipy.fft.irfft(lines, n_made, norm="forward")[:n_samples].copy()
    powers = np.square(amplitude)
    total = float(powers.sum())
    effective_hz = bin_hz * total**2 / float(np.square(powers).sum())
    # A line of unit draws has E|X|^2 = 2 and comes with its mirror image: 4 in the mean square.
    return samples, NoiseFigures(4.0 * total, effective_hz)
