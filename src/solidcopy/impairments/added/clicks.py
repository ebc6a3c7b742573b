"""Keying with hard edges: the clicks that it spreads, as a receiver's passband lets them through.

The amplitude of a carrier that is switched in no time has sidebands that fall by 6 dB an octave.
Samples cannot hold them all, so a passband is stated, and each edge is put between the samples
as the step response of that passband: nothing is folded back.
"""

import functools
import math

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.pulse import FINE_RATE_HZ
from solidcopy.impairments.level import STRICT
from solidcopy.signals import filters
from solidcopy.signals.waveform import AnalyticSamples

SKIRT_HZ = 100.0


class ClickBand(BaseModel):
    """The passband through which clicks are heard."""

    model_config = STRICT

    low_hz: float = Field(
        200.0, ge=SKIRT_HZ, le=20_000.0, description="lower edge of the passband, Hz"
    )
    high_hz: float = Field(
        2900.0, le=24_000.0, description="upper edge (6 dB down; 60 dB down 100 Hz beyond), Hz"
    )

    @model_validator(mode="after")
    def _is_wide_enough(self) -> "ClickBand":
        if self.high_hz - self.low_hz < 4.0 * SKIRT_HZ:
            raise ValueError(
                f"the passband {self.low_hz:g}-{self.high_hz:g} Hz is narrower than "
                f"{4.0 * SKIRT_HZ:g} Hz; widen it"
            )
        return self

    def band_about(self, carrier_hz: float, *, sample_rate_hz: int) -> filters.Band:
        """The passband. CalibrationError if it or the carrier in it does not fit."""
        lowest_hz, highest_hz = self.low_hz + SKIRT_HZ, self.high_hz - SKIRT_HZ
        if not lowest_hz <= carrier_hz <= highest_hz:
            raise CalibrationError(
                f"a hard-keyed carrier at {carrier_hz:.6g} Hz is asked; it may lie between "
                f"{lowest_hz:g} and {highest_hz:g} Hz, within the passband of its clicks"
            )
        return filters.fitting_band(
            self.low_hz, self.high_hz, skirt_hz=SKIRT_HZ, sample_rate_hz=sample_rate_hz
        )


def hard_keyed(
    edges_s: NDArray[np.float64],
    band: filters.Band,
    *,
    carrier_hz: float,
    n_samples: int,
    sample_rate_hz: int,
) -> AnalyticSamples:
    """Complex amplitude of a carrier switched on and off in turn, behind a passband.

    Args:
        edges_s: (n_edges,) ascending, on, off, on, off...; they may lie outside the slot.
    Returns: (n_samples,), about 1 while on and 0 while off; without the passband's delay.
    """
    step, fine_rate_hz = step_response(band, carrier_hz, sample_rate_hz)
    half_s = (step.size // 2) / fine_rate_hz
    first = np.ceil((edges_s - half_s) * sample_rate_hz).astype(np.int64)
    samples = first[:, None] + np.arange(math.ceil(2.0 * half_s * sample_rate_hz) + 2)
    into_step = (samples / sample_rate_hz - (edges_s - half_s)[:, None]) * fine_rate_hz
    risen = np.interp(into_step.ravel(), np.arange(step.size), step).reshape(samples.shape)
    growth = np.diff(risen, axis=1, prepend=0.0)
    growth[1::2] *= -1.0
    place = np.clip(samples, 0, n_samples).ravel()
    per_sample = [
        np.bincount(place, weights=part.ravel(), minlength=n_samples + 1)[:n_samples]
        for part in (growth.real, growth.imag)
    ]
    return np.asarray(np.cumsum(per_sample[0]) + 1j * np.cumsum(per_sample[1]))


@functools.lru_cache(maxsize=16)
def step_response(
    band: filters.Band, carrier_hz: float, sample_rate_hz: int
) -> tuple[NDArray[np.complex128], float]:
    """What a passband makes of a carrier switched on, seen from the carrier; and its fine rate.

    Returns: (odd n_points,) read-only, from 0 to exactly 1, the edge in its middle.
    """
    fine_rate_hz = float(math.ceil(FINE_RATE_HZ / sample_rate_hz) * sample_rate_hz)
    taps = filters.low_pass_taps(
        edge_hz=(band.high_hz - band.low_hz) / 2.0,
        skirt_hz=band.skirt_hz,
        attenuation_db=band.attenuation_db,
        sample_rate_hz=fine_rate_hz,
    )
    place = np.arange(taps.size) - taps.size // 2
    middle_hz = (band.low_hz + band.high_hz) / 2.0 - carrier_hz
    shifted = taps * np.exp(2j * math.pi * middle_hz / fine_rate_hz * place)
    # Half of a point's growth lies before it: so the edge is where the point is.
    step = np.cumsum(shifted) - shifted / 2.0
    step /= shifted.sum()
    step[0], step[-1] = 0.0, 1.0
    step.flags.writeable = False
    return step, fine_rate_hz
