"""The shape of one impulse, as a receiver's passband lets it through."""

import functools
import math
from dataclasses import dataclass
from typing import Annotated, Literal, Self

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.level import STRICT
from solidcopy.signals import filters

FINE_RATE_HZ = 768_000
"""Pulses are tabled at about this rate, so that they can begin between samples. A straight line
between its points errs by (2 pi f / rate)^2 / 8 at a frequency f: -82 dB at 3 kHz, -70 dB at 6 kHz,
but only -50 dB at 20 kHz. Below -80 dB there it would take six times the rate, and the memory with
it (a long ring then needs 130 MB)."""

RING_TAIL_DECAYS = 9.2
"""A ring is cut where it has fallen by 80 dB: ln(10^4) decay times."""


class Click(BaseModel):
    """An impulse much shorter than the passband can show: a switch, a fence, a spark."""

    model_config = STRICT
    kind: Literal["click"] = "click"


class Ring(BaseModel):
    """An impulse that sets something swinging: sin(2 pi f t) exp(-t / decay)."""

    model_config = STRICT
    kind: Literal["ring"] = "ring"
    ring_hz: float = Field(ge=50.0, le=20_000.0, description="frequency of the ring, Hz")
    decay_ms: float = Field(
        ge=0.1, le=200.0, description="time in which the amplitude falls to 37 %, ms"
    )


class Burst(BaseModel):
    """A piece of Gaussian noise, new for every impulse: an arc, a motor's brush."""

    model_config = STRICT
    kind: Literal["burst"] = "burst"
    length_ms: float = Field(
        ge=0.5, le=2000.0, description="between the half-amplitude points of its edges, ms"
    )
    edge_ms: float = Field(
        0.5, ge=0.1, le=100.0, description="raised-cosine rise and fall of the amplitude, ms"
    )

    @model_validator(mode="after")
    def _edges_fit(self) -> Self:
        if self.edge_ms > self.length_ms:
            raise ValueError(
                f"edge_ms ({self.edge_ms:g}) must not exceed length_ms ({self.length_ms:g})"
            )
        return self


AnyPulse = Annotated[Click | Ring | Burst, Field(discriminator="kind")]
"""The shape of an impulse, told apart by `kind`."""


@dataclass(frozen=True, slots=True, eq=False)
class PulseTable:
    """A pulse on a grid finer than the samples."""

    in_phase: NDArray[np.float64]
    """(n_phases + 1, n_length); row k begins k / n_phases of a sample after the start."""
    quadrature: NDArray[np.float64]
    """Its Hilbert partner: turning the carrier's phase mixes the two."""
    energy: float
    """Sum of squares of the in-phase pulse, per sample."""
    turned_energy: float
    """The same, on average over all phases."""
    energy_ripple: float
    """Standard deviation of the energy over all phases, relative."""
    autocorrelation: NDArray[np.float64]
    """(n_lags,) of the in-phase pulse, at multiples of a sample / n_phases; [0] = energy."""
    effective_bandwidth_hz: float

    @property
    def n_phases(self) -> int:
        """Grid points for each sample."""
        return int(self.in_phase.shape[0]) - 1

    @property
    def core(self) -> tuple[float, float]:
        """Samples after the start between which all but a hundredth of a pulse's energy lies."""
        energy = np.cumsum(np.square(self.in_phase[0]) + np.square(self.quadrature[0]))
        first, last = np.searchsorted(energy, energy[-1] * np.array([0.005, 0.995]))
        return float(first), float(last + 1)

    @property
    def n_length(self) -> int:
        """Samples that a pulse may touch."""
        return int(self.in_phase.shape[1])


@functools.lru_cache(maxsize=32)
def pulse_table(shape: Click | Ring, band: filters.Band, sample_rate_hz: int) -> PulseTable:
    """The pulse behind a passband filter, tabled for sub-sample placing.

    Source: derived here. The filter passes positive frequencies only, so real and imaginary
        part are the pulse and its Hilbert partner.
    """
    n_phases = math.ceil(FINE_RATE_HZ / sample_rate_hz)
    fine_rate_hz = n_phases * sample_rate_hz
    prototype = filters.low_pass_taps(
        edge_hz=(band.high_hz - band.low_hz) / 2.0,
        skirt_hz=band.skirt_hz,
        attenuation_db=band.attenuation_db,
        sample_rate_hz=fine_rate_hz,
    )
    middle_rad = math.pi * (band.low_hz + band.high_hz) / fine_rate_hz
    place = np.arange(prototype.size) - prototype.size // 2
    analytic = prototype * np.exp(1j * middle_rad * place)
    if isinstance(shape, Ring):
        decay_s = shape.decay_ms / 1000.0
        time_s = np.arange(round(RING_TAIL_DECAYS * decay_s * fine_rate_hz)) / fine_rate_hz
        ring = np.exp(-time_s / decay_s) * np.sin(2.0 * math.pi * shape.ring_hz * time_s)
        analytic = filters.convolved(analytic, ring)
    return _tabled(analytic, n_phases=n_phases, sample_rate_hz=sample_rate_hz)


def _tabled(analytic: NDArray[np.complex128], *, n_phases: int, sample_rate_hz: int) -> PulseTable:
    # The factor belongs to no one: levels are set from the energies below.
    analytic = analytic / np.abs(analytic).max()
    n_length = analytic.size // n_phases + 2
    padded = np.zeros((n_length + 1) * n_phases, dtype=np.complex128)
    padded[: analytic.size] = analytic
    columns = padded.reshape(n_length + 1, n_phases)
    rows = np.concatenate([columns[:-1], columns[1:, :1]], axis=1).T
    spectrum = np.abs(scipy.fft.rfft(analytic.real, 2 * padded.size)) ** 2
    autocorrelation = scipy.fft.irfft(spectrum)[: analytic.size] / n_phases
    squares = np.abs(analytic) ** 2
    bin_hz = n_phases * sample_rate_hz / (2 * padded.size)
    return PulseTable(
        in_phase=np.ascontiguousarray(rows.real),
        quadrature=np.ascontiguousarray(rows.imag),
        energy=float(autocorrelation[0]),
        turned_energy=float(squares.sum()) / 2.0 / n_phases,
        energy_ripple=float(abs(np.square(analytic).sum()) / squares.sum()) / math.sqrt(2.0),
        autocorrelation=autocorrelation,
        effective_bandwidth_hz=bin_hz * float(spectrum.sum()) ** 2 / float((spectrum**2).sum()),
    )


@functools.lru_cache(maxsize=32)
def gate_table(shape: Burst, sample_rate_hz: int) -> NDArray[np.float64]:
    """Squared amplitude of a burst's gate, (n_phases + 1, n_length), tabled like a pulse."""
    n_phases = math.ceil(FINE_RATE_HZ / sample_rate_hz)
    n_length = math.ceil((shape.length_ms + shape.edge_ms) / 1000.0 * sample_rate_hz) + 2
    fine = np.arange(n_length)[None, :] + np.arange(n_phases + 1)[:, None] / n_phases
    into_ms = fine * 1000.0 / sample_rate_hz
    rise = np.clip(into_ms / shape.edge_ms, 0.0, 1.0)
    fall = np.clip((into_ms - shape.length_ms) / shape.edge_ms, 0.0, 1.0)
    amplitude = 0.5 * (np.cos(math.pi * fall) - np.cos(math.pi * rise))
    gate: NDArray[np.float64] = np.square(amplitude)
    return gate
