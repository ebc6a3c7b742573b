"""Word length: a converter with so many bits, driven so far."""

import math
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals.power import mean_power
from solidcopy.signals.waveform import Samples


class WordLength(BaseModel):
    """Samples rounded to the steps of a converter and cut off at its full scale."""

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.WORD_LENGTH
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = True

    kind: Literal["word-length"] = "word-length"
    on: bool = Field(True, description="false: as if it were not there")
    n_bits: Annotated[int, Field(ge=1, le=24)] = Field(16, description="sign included")
    level_dbfs: Swept = Field(
        -20.0, description="mean power at the converter, dBFS (a full-scale sine is 0)"
    )
    has_dither: bool = Field(
        False, description="triangular dither of two steps: noise instead of distortion"
    )

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """Rounded to multiples of 2 / 2^bits; the highest code is one step below full scale.

        Rounding of a lively signal adds noise of step² / 12 (textbook), triangular dither twice
        as much again.
        """
        samples = heard.samples
        mean = mean_power(samples)
        if mean > 0.0:
            target = units.power_from_dbfs(fixed(self.level_dbfs, "level_dbfs"))
            samples *= math.sqrt(target / mean)
        half_codes = 2.0 ** (self.n_bits - 1)
        samples *= half_codes
        if self.has_dither:
            samples += generator.random(samples.size) - generator.random(samples.size)
        np.rint(samples, out=samples)
        np.clip(samples, -half_codes, half_codes - 1.0, out=samples)
        samples /= half_codes
        return samples

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
