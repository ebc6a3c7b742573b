"""A limiter in front of the channel filter: strong impulses are cut while they are short."""

import math
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.chain import places
from solidcopy.impairments.chain.reference_level import background_rms
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals.amplitude_distribution import envelope
from solidcopy.signals.waveform import Samples


class WidebandLimiter(BaseModel):
    """The envelope of the whole wide band is held below a ceiling; its phase is kept."""

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.LIMITER
    is_wideband: ClassVar[bool] = True
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["wideband-limiter"] = "wideband-limiter"
    on: bool = Field(True, description="false: as if it were not there")
    level_db: Swept = Field(
        12.0,
        description="ceiling over the rms of what is always there, dB; noise passes 9 dB in "
        "0.04 % of the time",
    )

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """x * min(1, ceiling / envelope): as in front of a tuned circuit, so no harmonics fold."""
        values = envelope(heard.samples, sample_rate_hz=heard.sample_rate_hz)
        over_rms = math.sqrt(units.ratio_from_db(fixed(self.level_db, "level_db")))
        ceiling = over_rms * background_rms(values)
        limited: Samples = heard.samples * (ceiling / np.maximum(values, ceiling or 1.0))
        return limited

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
