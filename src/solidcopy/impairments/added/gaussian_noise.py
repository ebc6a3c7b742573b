"""White Gaussian noise, stated by its density so that neither rate nor filter matters."""

import math
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed


class GaussianNoise(BaseModel):
    """White Gaussian noise over the whole sampled band."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["gaussian-noise"] = "gaussian-noise"
    snr_db: Swept = Field(description="wanted power over noise power in 2500 Hz, dB")

    def level(self) -> Level:
        """The asked SNR in 2500 Hz."""
        return Level("snr", fixed(self.snr_db, "snr_db"))

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Unit-variance white samples: 2500 Hz of them hold 2500 / (sample rate / 2)."""
        in_reference = 2.0 * units.REFERENCE_BANDWIDTH_HZ / scene.sample_rate_hz
        # The mean square of n independent samples has a relative deviation of sqrt(2/n); of the
        # part inside 2500 Hz the number of independent values is smaller in proportion.
        n_independent = scene.n_samples * in_reference
        return Disturbance(
            samples=generator.standard_normal(scene.n_samples),
            reference_power=in_reference,
            spread_db=units.db_from_ratio(1.0 + math.sqrt(2.0 / n_independent)),
            occupied_hz=(0.0, scene.half_rate_hz),
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
