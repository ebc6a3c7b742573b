"""A station's carrier and sidebands as they come through a receiver's passband."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.placed import Reach, at_frequency
from solidcopy.impairments.added.programme import Spectrum
from solidcopy.impairments.impairment import Scene
from solidcopy.signals import filters
from solidcopy.signals.band_noise import skirted_amplitude
from solidcopy.signals.waveform import AnalyticSamples, Samples

PASSBAND_SKIRT_HZ = 100.0
"""Beyond the edges of the passband, where it is 6 dB down; nothing comes through beyond."""
MIN_HEARD_HZ = 100.0
"""So much of a sideband must lie in the passband."""


@dataclass(frozen=True, slots=True, eq=False)
class Sidebands:
    """What a transmitter sends, from its carrier's frequency on."""

    upper: Spectrum | None
    """(n,) complex amplitudes at 0, 1, 2... times 1 / circle_s above the carrier."""
    lower: Spectrum | None
    """(n,) the same below the carrier."""
    carrier: float
    """Its amplitude."""
    circle_s: int
    """Everything repeats after so many seconds, which must exceed the slot."""


def passband(low_hz: float, high_hz: float, scene: Scene) -> filters.Band:
    """The receiver's passband. CalibrationError if it does not fit the sampled band."""
    return filters.fitting_band(
        low_hz, high_hz, skirt_hz=PASSBAND_SKIRT_HZ, sample_rate_hz=scene.sample_rate_hz
    )


def refuse_narrow(low_hz: float, high_hz: float) -> None:
    """ValueError for a passband narrower than its skirts."""
    if high_hz - low_hz < 2.0 * PASSBAND_SKIRT_HZ:
        raise ValueError(
            f"the passband {low_hz:g}-{high_hz:g} Hz is narrower than "
            f"{2.0 * PASSBAND_SKIRT_HZ:g} Hz; widen it"
        )


def reach_to_be_heard(sent_hz: tuple[float, float], band: filters.Band, scene: Scene) -> Reach:
    """How the place of a carrier is bound, so that its sideband comes through the passband.

    Args:
        sent_hz: lowest and highest frequency of the sideband, from the carrier; an inverted one
            is negative.
    Raises: CalibrationError if no place will do.
    """
    lowest_hz = band.low_hz + MIN_HEARD_HZ - sent_hz[1]
    highest_hz = band.high_hz - MIN_HEARD_HZ - sent_hz[0]
    if lowest_hz > highest_hz:
        raise CalibrationError("no part of the sideband can come through so narrow a passband")
    return Reach(below_hz=lowest_hz, above_hz=scene.half_rate_hz - highest_hz)


def heard(
    sent: Sidebands, band: filters.Band, scene: Scene, *, carrier_hz: float, phase_rad: float
) -> tuple[Samples, float]:
    """What comes through the passband of a receiver for one sideband, at the scene's rate.

    Such a receiver hears a frequency below its own zero beat not at all, so nothing folds over.

    Args:
        carrier_hz: where the carrier lies in the audio; below 0 it is not heard itself.
        phase_rad: of the carrier at the first sample.
    Returns: (n_samples,) and their mean power, from the squared envelope.
    """
    baseband = _through(sent, band, carrier_hz=carrier_hz, scene=scene)
    samples = at_frequency(
        baseband,
        frequency_hz=carrier_hz,
        phase_rad=phase_rad,
        sample_rate_hz=scene.sample_rate_hz,
    )
    squared = np.square(baseband.real)
    squared += np.square(baseband.imag)
    return samples, float(squared.mean()) / 2.0


def _through(
    sent: Sidebands, band: filters.Band, *, carrier_hz: float, scene: Scene
) -> AnalyticSamples:
    """Complex envelope about the carrier, (n_samples,)."""
    n_circle = sent.circle_s * scene.sample_rate_hz
    lines = np.zeros(n_circle, dtype=np.complex64)
    lines[0] = sent.carrier * skirted_amplitude(band, np.array([carrier_hz]))[0]
    low_hz, high_hz = band.feet_hz
    for spectrum, sign in ((sent.upper, 1), (sent.lower, -1)):
        if spectrum is None:
            continue
        ends_hz = sorted((sign * (low_hz - carrier_hz), sign * (high_hz - carrier_hz)))
        first = max(math.ceil(ends_hz[0] * sent.circle_s), 1)
        last = min(math.floor(ends_hz[1] * sent.circle_s), spectrum.size - 1)
        place: NDArray[np.int64] = np.arange(first, last + 1)
        gain = skirted_amplitude(band, carrier_hz + sign * place / sent.circle_s)
        lines[(sign * place) % n_circle] = gain * spectrum[first : last + 1]
    envelope: NDArray[np.complex64] = scipy.fft.ifft(lines, norm="forward", overwrite_x=True)
    return envelope[: scene.n_samples].astype(np.complex128)
