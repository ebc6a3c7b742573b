"""Automatic gain control: the strongest thing in the pass band sets the gain for everything."""

import math
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.kernels.gain_control import controlled
from solidcopy.signals.amplitude_distribution import envelope
from solidcopy.signals.power import mean_power
from solidcopy.signals.waveform import Samples


class GainControl(BaseModel):
    """Gain that follows the peaks at once, waits, and recovers at a steady rate.

    A strong neighbour that comes and goes so pumps the level of the wanted signal.
    """

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.GAIN_CONTROL
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["gain-control"] = "gain-control"
    on: bool = Field(True, description="false: as if it were not there")
    attack_ms: Annotated[float, Field(ge=0, le=1000)] = Field(
        2.0, description="time constant with which the gain falls, ms"
    )
    hang_ms: Annotated[float, Field(ge=0, le=10_000)] = Field(
        0.0, description="for how long the gain then stays, ms"
    )
    decay_db_per_s: Swept = Field(
        60.0, description="rate at which the gain recovers after that, dB per second"
    )
    reach_db: Annotated[float, Field(ge=0, le=120)] = Field(
        60.0, description="highest gain over that at the slot's rms level, dB"
    )

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """x over the followed envelope, which never falls below the slot's rms less `reach_db`.

        Raises: PlanError if a swept number is missing.
        Source: common practice, no source; the laws are in the kernel.
        """
        rate = heard.sample_rate_hz
        rms = math.sqrt(mean_power(heard.samples))
        if rms == 0.0:
            return heard.samples
        attack_samples = self.attack_ms / 1000.0 * rate
        decay_db = fixed(self.decay_db_per_s, "decay_db_per_s")
        gains: Samples = controlled(
            envelope(heard.samples, sample_rate_hz=rate),
            math.exp(-1.0 / attack_samples) if attack_samples > 0.0 else 0.0,
            round(self.hang_ms / 1000.0 * rate),
            math.sqrt(units.ratio_from_db(-decay_db / rate)),
            rms * math.sqrt(units.ratio_from_db(-self.reach_db)),
        )
        gains *= rms
        gains *= heard.samples
        return gains

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
