"""Clipping: a stage driven beyond what it can follow."""

import math
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals import power
from solidcopy.signals.waveform import Samples


class Clipping(BaseModel):
    """Everything beyond a level is cut off there, both ways alike."""

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.CLIPPING
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["clipping"] = "clipping"
    on: bool = Field(True, description="false: as if it were not there")
    level_db: Swept = Field(
        description="peak that still passes, over the rms before it, dB; Gaussian noise passes "
        "+10 dB in 0.16 % of its samples"
    )

    @property
    def late_s(self) -> float:
        """It moves nothing."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """min(max(x, -c), c) with c at the asked level over the rms."""
        rms = math.sqrt(power.mean_power(heard.samples))
        ceiling = rms * math.sqrt(units.ratio_from_db(fixed(self.level_db, "level_db")))
        return np.clip(heard.samples, -ceiling, ceiling, out=heard.samples)

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
