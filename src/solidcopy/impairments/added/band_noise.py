"""Gaussian noise in a band: a neighbour's wide signal, a noisy supply, hash from electronics."""

from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed, one_level, refuse_not_one
from solidcopy.signals import filters
from solidcopy.signals.band_noise import band_limited_noise


class BandNoise(BaseModel):
    """Gaussian noise between two edges with stated skirts."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["band-noise"] = "band-noise"
    centre_hz: Swept | None = Field(None, description="middle of the band, audio frequency in Hz")
    offset_hz: Swept | None = Field(
        None, description="middle of the band, from the middle of the wanted signal, Hz"
    )
    width_hz: Swept = Field(description="between the edges, where it is 6 dB down, Hz")
    skirt_hz: float = Field(
        20.0,
        ge=1.0,
        le=1000.0,
        description="distance beyond an edge at which nothing is left (raised cosine, more than "
        "60 dB down), Hz; at most half the width",
    )
    signal_to_interference_db: Swept | None = Field(
        None, description="wanted power over the mean power of this noise in the slot, dB"
    )
    interference_to_noise_db: Swept | None = Field(
        None, description="its mean power over the condition's noise power in 2500 Hz, dB"
    )

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_not_one(centre_hz=self.centre_hz, offset_hz=self.offset_hz)
        refuse_not_one(
            signal_to_interference_db=self.signal_to_interference_db,
            interference_to_noise_db=self.interference_to_noise_db,
        )
        if not isinstance(self.width_hz, str) and self.skirt_hz > self.width_hz / 2.0:
            raise ValueError(
                f"skirt_hz is {self.skirt_hz:g}; it must not exceed half the width "
                f"({self.width_hz / 2.0:g} Hz)"
            )
        return self

    def level(self) -> Level:
        """The asked ratio."""
        return one_level(self.signal_to_interference_db, self.interference_to_noise_db)

    def band(self, scene: Scene) -> filters.Band:
        """Edges and skirts in the audio. CalibrationError if they do not fit the sampled band."""
        if self.centre_hz is not None:
            centre_hz = fixed(self.centre_hz, "centre_hz")
        else:
            assert self.offset_hz is not None
            centre_hz = scene.wanted_middle_hz + fixed(self.offset_hz, "offset_hz")
        half_hz = fixed(self.width_hz, "width_hz") / 2.0
        return filters.fitting_band(
            centre_hz - half_hz,
            centre_hz + half_hz,
            skirt_hz=self.skirt_hz,
            sample_rate_hz=scene.sample_rate_hz,
        )

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Noise drawn line by line of its spectrum: its expected power is the sum of the lines."""
        band = self.band(scene)
        samples, figures = band_limited_noise(
            band,
            n_samples=scene.n_samples,
            sample_rate_hz=scene.sample_rate_hz,
            generator=generator,
        )
        return Disturbance(
            samples=samples,
            reference_power=figures.mean_power,
            spread_db=units.db_from_ratio(1.0 + figures.relative_spread(scene.duration_s)),
            occupied_hz=band.feet_hz,
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
