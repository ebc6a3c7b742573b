"""One carrier, steady or keyed: a neighbour's transmitter, a clock line, a tuning-up station."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added.morse import MorseKeying
from solidcopy.impairments.added.placed import (
    AudioHz,
    InterferenceToNoise,
    OffsetHz,
    Reach,
    SignalToInterference,
    frequency_in,
    level_of,
    refuse_level_not_once,
    refuse_place_not_once,
)
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level
from solidcopy.signals import power
from solidcopy.signals.tone import tone

STEADY_HALF_WIDTH_HZ = 20.0
"""A tone cut to a slot's length keeps all but 0.1 % of its power so close to its frequency."""
MARGIN_HZ = 20.0
"""Left between a carrier and the ends of the sampled band."""


class Carrier(BaseModel):
    """A single tone, at an audio frequency or at a distance from the wanted signal."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["carrier"] = "carrier"
    audio_hz: AudioHz = None
    offset_hz: OffsetHz = None
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    keying: MorseKeying | None = Field(
        None, description="on/off keying by Morse signals; left out: a steady carrier"
    )

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        return self

    def level(self) -> Level:
        """The asked ratio, of the mean over the slot (keyed: gaps included)."""
        return level_of(self)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """A cosine of random phase. A keyed one refers to the mean of its own slot, exactly."""
        carrier_hz = frequency_in(scene, self, reach=Reach.around(MARGIN_HZ), name="a carrier")
        phase_rad = generator.uniform(0.0, 2.0 * math.pi)
        samples = tone(
            frequency_hz=carrier_hz,
            phase_rad=phase_rad,
            n_samples=scene.n_samples,
            sample_rate_hz=scene.sample_rate_hz,
        )
        share_on, half_width_hz = 1.0, STEADY_HALF_WIDTH_HZ
        if self.keying is not None:
            amplitude = self.keying.amplitude(
                n_samples=scene.n_samples,
                sample_rate_hz=scene.sample_rate_hz,
                generator=generator,
            )
            samples *= amplitude
            share_on = power.mean_power(amplitude)
            half_width_hz = 3000.0 / self.keying.edge_ms  # three times 1 / edge
        return Disturbance(
            samples=samples,
            reference_power=share_on / 2.0,
            spread_db=0.0,
            occupied_hz=(carrier_hz - half_width_hz, carrier_hz + half_width_hz),
            share_on=share_on,
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
