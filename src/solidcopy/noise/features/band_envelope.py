"""The envelope of everything in the passband but steady lines, stretch by stretch."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.fft

from solidcopy.noise.features.figure import FloatArray
from solidcopy.signals.band_noise import skirted_amplitude
from solidcopy.signals.filters import Band
from solidcopy.signals.power import AnySamples

STRETCH_S = 30.0
GUARD_S = 0.5
"""Faded in and out on both sides of a stretch and left out: a notch rings so long."""
SAMPLES_PER_BAND = 2.0
"""Envelope samples a second, in bandwidths."""


@dataclass(frozen=True, slots=True, eq=False)
class EnvelopePlan:
    """Which part of the spectrum the envelope is taken of, and how."""

    band: Band
    notches_hz: FloatArray
    """(n_notches, 2) from where to where lines are cut out."""
    sample_rate_hz: float
    n_samples: int
    """Of the recording."""

    @property
    def n_guard(self) -> int:
        """Samples left out at both ends of a stretch."""
        return min(round(GUARD_S * self.sample_rate_hz), self.n_samples // 16)

    @property
    def n_stretch(self) -> int:
        """Samples transformed at once, guards included."""
        inner = min(self.n_watched, round(STRETCH_S * self.sample_rate_hz))
        return int(scipy.fft.next_fast_len(inner + 2 * self.n_guard, real=True))

    @property
    def n_watched(self) -> int:
        """Samples of the recording but for a guard at both of its ends."""
        return self.n_samples - 2 * self.n_guard

    @property
    def begin_s(self) -> float:
        """Time of the first envelope sample."""
        return self.n_guard / self.sample_rate_hz

    @property
    def watched_s(self) -> tuple[float, float]:
        """From when to when the envelope is taken."""
        return self.begin_s, (self.n_samples - self.n_guard) / self.sample_rate_hz

    @property
    def n_out(self) -> int:
        """Envelope samples of a stretch, guards included."""
        low_hz, high_hz = self.band.feet_hz
        share = SAMPLES_PER_BAND * (high_hz - low_hz) / self.sample_rate_hz
        return int(scipy.fft.next_fast_len(max(8, math.ceil(self.n_stretch * min(share, 1.0)))))

    @property
    def envelope_rate_hz(self) -> float:
        """Envelope samples a second."""
        return self.sample_rate_hz * self.n_out / self.n_stretch


def inner_band(passband_hz: tuple[float, float]) -> Band:
    """A band within the passband, with skirts soft enough that an impulse does not ring long."""
    low_hz, high_hz = passband_hz
    skirt_hz = 0.1 * (high_hz - low_hz)
    return Band(low_hz + skirt_hz, high_hz - skirt_hz, skirt_hz)


def envelope_powers(samples: AnySamples, plan: EnvelopePlan) -> Iterator[FloatArray]:
    """Squared envelope in order, stretch by stretch, without gap or overlap: (n_here,) each.

    The mean is twice the mean power of the band. The first value is that of sample n_guard; the
    last n_guard samples are left out as well.
    """
    n_guard, n_stretch, n_out = plan.n_guard, plan.n_stretch, plan.n_out
    bin_hz = plan.sample_rate_hz / n_stretch
    low_hz, high_hz = plan.band.feet_hz
    first, last = max(math.ceil(low_hz / bin_hz), 1), math.floor(high_hz / bin_hz)
    last = min(last, n_stretch // 2 - 1, first + n_out - 1)
    response = skirted_amplitude(plan.band, bin_hz * np.arange(first, last + 1, dtype=np.float64))
    for low, high in plan.notches_hz:
        begin, end = math.ceil(low / bin_hz) - first, math.floor(high / bin_hz) - first
        response[max(begin, 0) : max(end + 1, 0)] = 0.0
    n_inner = n_stretch - 2 * n_guard
    out_per_in = n_out / n_stretch
    done = 0
    for begin in range(0, plan.n_watched, n_inner):
        lines = np.zeros(n_out, dtype=np.complex128)
        part = _faded(samples[begin : begin + n_stretch], n_guard, n_stretch)
        lines[: response.size] = scipy.fft.rfft(part)[first : last + 1] * response
        signal = scipy.fft.ifft(lines, overwrite_x=True) * (2.0 * n_out / n_stretch)
        powers = np.square(signal.real) + np.square(signal.imag)
        end = math.floor(min(begin + n_inner, plan.n_watched) * out_per_in)
        offset = done - round((begin - n_guard) * out_per_in)
        yield powers[offset : offset + end - done]
        done = end


def _faded(samples: AnySamples, n_guard: int, n_stretch: int) -> FloatArray:
    """Samples with half a cosine from and to 0 within the guards, and nothing after them."""
    rise = 0.5 - 0.5 * np.cos(math.pi * (np.arange(n_guard) + 0.5) / max(n_guard, 1))
    part = np.zeros(n_stretch)
    part[: samples.size] = samples
    part[:n_guard] *= rise
    part[samples.size - n_guard : samples.size] *= rise[::-1]
    return part
