"""How often the envelope of samples passes a level, and the figures that sum this up.

Equal mean power does not make equal noise: the amplitude probability distribution (APD), the
voltage deviation and the kurtosis tell steady noise from impulsive noise.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.signals.band_noise import skirted_amplitude
from solidcopy.signals.filters import Band
from solidcopy.signals.power import AnySamples, mean_power
from solidcopy.signals.waveform import AnalyticSamples

GAUSSIAN_VOLTAGE_DEVIATION_DB = units.db_from_ratio(4.0 / math.pi)
"""That of Gaussian noise, 1.049 dB and not 0 (FACTS C3): its envelope is Rayleigh distributed,
with a mean of sqrt(pi) / 2 times its root mean square."""

Envelope = NDArray[np.float64]
"""Magnitude of the analytic signal, (n_samples,); a sine of amplitude 1 has an envelope of 1."""


def analytic_signal(
    samples: AnySamples, *, sample_rate_hz: float, band: Band | None = None
) -> AnalyticSamples:
    """Samples with their Hilbert partner as imaginary part.

    Args:
        samples: (n_samples,) real. The two ends are taken as neighbours (a circle).
        sample_rate_hz: of the samples.
        band: keep only this band, with raised-cosine skirts; None: everything.
    Returns: (n_samples,) complex128; without a band its real part equals the samples.
    Source: derived here: a one-sided spectrum, doubled except at 0 Hz and at half the rate.
    """
    n_samples = samples.size
    one_sided = np.zeros(n_samples, dtype=np.complex128)
    spectrum = scipy.fft.rfft(np.asarray(samples, dtype=np.float64))
    if band is not None:
        spectrum *= skirted_amplitude(band, scipy.fft.rfftfreq(n_samples, 1.0 / sample_rate_hz))
    n_doubled = (n_samples - 1) // 2
    spectrum[1 : n_doubled + 1] *= 2.0
    one_sided[: spectrum.size] = spectrum
    signal: AnalyticSamples = scipy.fft.ifft(one_sided, overwrite_x=True)
    return signal


def envelope(samples: AnySamples, *, sample_rate_hz: float, band: Band | None = None) -> Envelope:
    """Magnitude of the analytic signal, arguments as there."""
    return np.abs(analytic_signal(samples, sample_rate_hz=sample_rate_hz, band=band))


def p_exceeded(values: Envelope, levels: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of an envelope's values above each level: P(envelope > level).

    Args:
        values: (n_samples,) of at least one value.
        levels: (n_levels,) in the units of `values`, in any order.
    Returns: (n_levels,) between 0 and 1. Values closer than 1 / bandwidth are not independent:
        shares below the number of such stretches mean nothing.
    """
    return 1.0 - np.searchsorted(np.sort(values), levels, side="right") / values.size


def exceeded_levels(values: Envelope, p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Level that each share of an envelope's values passes: the inverse of `p_exceeded`."""
    return np.quantile(values, 1.0 - np.asarray(p))


def voltage_deviation_db(values: Envelope) -> float:
    """Vd: root mean square over mean of an envelope, dB; 0 for silence.

    A steady carrier has 0 dB, Gaussian noise 1.049 dB, impulsive noise more; it falls with the
    bandwidth in which the envelope is taken.
    Source: P.372, as restated in FACTS C3.
    """
    mean = float(values.mean())
    return units.db_from_ratio(mean_power(values) / mean**2) if mean > 0.0 else 0.0


def envelope_crest_db(values: Envelope) -> float:
    """Highest value of an envelope over its root mean square, dB; 0 for silence."""
    mean_square = mean_power(values)
    highest = float(values.max())
    return units.db_from_ratio(highest**2 / mean_square) if mean_square > 0.0 else 0.0


def excess_kurtosis(samples: AnySamples) -> float:
    """Fourth moment of real samples over the squared second, less 3; 0 for silence.

    0 for Gaussian noise, -1.5 for a sine. The mean is taken as 0, as of audio.
    """
    squares = np.square(samples, dtype=np.float64)
    mean_square = float(squares.mean())
    return float(np.square(squares).mean()) / mean_square**2 - 3.0 if mean_square > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class AmplitudeFigures:
    """What sums up an amplitude distribution."""

    voltage_deviation_db: float
    crest_db: float
    """Of the envelope; that of the samples is up to 3.01 dB higher."""
    excess_kurtosis: float
    """Of the real samples, within the band."""


def amplitude_figures(
    samples: AnySamples, *, sample_rate_hz: float, band: Band | None = None
) -> AmplitudeFigures:
    """Voltage deviation, crest and kurtosis of samples; arguments as of `analytic_signal`."""
    signal = analytic_signal(samples, sample_rate_hz=sample_rate_hz, band=band)
    values: Envelope = np.abs(signal)
    return AmplitudeFigures(
        voltage_deviation_db(values), envelope_crest_db(values), excess_kurtosis(signal.real)
    )
