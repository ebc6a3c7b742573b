"""The clock by which a receiver cuts its slots."""

from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals.waveform import Samples


class SlotClock(BaseModel):
    """A station clock that is late or early: everything that keeps to slots moves against it."""

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.SLOT_CLOCK
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["slot-clock"] = "slot-clock"
    on: bool = Field(True, description="false: as if it were not there")
    offset_s: Swept = Field(
        description="positive: the clock is late, so that signals come early, s"
    )

    @property
    def late_s(self) -> float:
        """As asked."""
        return fixed(self.offset_s, "offset_s")

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """No sample is touched."""
        return heard.samples

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
