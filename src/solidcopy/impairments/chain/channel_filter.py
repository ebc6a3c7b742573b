"""The channel filter: which audio frequencies a receiver passes, and how evenly."""

import math
from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals.waveform import Samples


class ChannelFilter(BaseModel):
    """A pass band with skirts, ripple and a group delay that grows towards its edges."""

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.CHANNEL_FILTER
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["channel-filter"] = "channel-filter"
    on: bool = Field(True, description="false: as if it were not there")
    low_hz: Swept = Field(300.0, description="lower -6 dB edge, Hz")
    high_hz: Swept = Field(2700.0, description="upper -6 dB edge, Hz")
    skirt_hz: Annotated[float, Field(gt=0, le=5000)] = Field(
        100.0, description="from the -6 dB edge to the full attenuation, Hz"
    )
    attenuation_db: Annotated[float, Field(ge=20, le=160)] = Field(
        80.0, description="beyond the skirts, dB"
    )
    ripple_db: Annotated[float, Field(ge=0, le=6)] = Field(
        0.0, description="highest to lowest gain in the pass band, dB"
    )
    ripple_period_hz: Annotated[float, Field(gt=0, le=5000)] = Field(
        300.0, description="distance of neighbouring crests of the ripple, Hz"
    )
    edge_delay_ms: Annotated[float, Field(ge=0, le=20)] = Field(
        0.0, description="group delay at the edges over that in the middle, ms"
    )

    @model_validator(mode="after")
    def _is_ordered(self) -> Self:
        low_hz, high_hz = self.low_hz, self.high_hz
        if isinstance(low_hz, str) or isinstance(high_hz, str):
            return self
        if not 0.0 <= low_hz < high_hz:
            raise ValueError(
                f"low_hz ({low_hz:g}) must lie below high_hz ({high_hz:g}), and neither below 0"
            )
        return self

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """Filtered over the whole run at once; a delay of 0 in the middle of the pass band."""
        spectrum = scipy.fft.rfft(heard.samples)
        hz = scipy.fft.rfftfreq(heard.samples.size, 1.0 / heard.sample_rate_hz)
        spectrum *= self.response(hz, half_rate_hz=heard.sample_rate_hz / 2.0)
        out: Samples = scipy.fft.irfft(spectrum, heard.samples.size)
        return out

    def response(self, hz: NDArray[np.float64], *, half_rate_hz: float) -> NDArray[np.complex128]:
        """Complex gain at each frequency.

        The gain in dB falls as a straight line through -6 dB at the edge: from 0 dB at a distance
        of skirt * 6 / attenuation inside it, to the full attenuation `skirt_hz` outside. Ripple is
        a cosine in dB with its mean at 0 dB. The group delay grows with the square of the distance
        from the middle: edge * u², u = 1 at the edges, constant beyond; the phase is its integral.

        Raises: CalibrationError if the pass band lies beyond half the rate.
        Source: derived here; edges at -6 dB as is common practice.
        """
        low_hz, high_hz = fixed(self.low_hz, "low_hz"), fixed(self.high_hz, "high_hz")
        if high_hz > half_rate_hz:
            raise CalibrationError(
                f"a channel filter up to {high_hz:g} Hz is asked; only {half_rate_hz:g} Hz exist "
                "at this sample rate"
            )
        middle_hz, half_width_hz = (low_hz + high_hz) / 2.0, (high_hz - low_hz) / 2.0
        outside_hz = np.abs(hz - middle_hz) - half_width_hz
        slope_db_per_hz = (self.attenuation_db - EDGE_DB) / self.skirt_hz
        loss_db = np.clip(EDGE_DB + slope_db_per_hz * outside_hz, 0.0, self.attenuation_db)
        periods = (hz - middle_hz) / self.ripple_period_hz
        gain_db = self.ripple_db / 2.0 * np.cos(2.0 * math.pi * periods) - loss_db
        u = np.clip((hz - middle_hz) / half_width_hz, -1.0, 1.0)
        beyond = (hz - middle_hz) / half_width_hz - u
        turns = self.edge_delay_ms / 1000.0 * half_width_hz * (u**3 / 3.0 + beyond)
        amplitude = np.sqrt(_ratio_from_db(gain_db))
        response: NDArray[np.complex128] = amplitude * np.exp(-2j * math.pi * turns)
        return response

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


EDGE_DB = 6.0
_ratio_from_db = np.vectorize(units.ratio_from_db, otypes=[np.float64])
