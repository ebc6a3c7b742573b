"""One carrier, steady or keyed: a neighbour's transmitter, a clock line, a tuning-up station."""

import math
from dataclasses import replace
from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added.clicks import hard_keyed
from solidcopy.impairments.added.gate import Gate, gated
from solidcopy.impairments.added.morse import MorseKeying
from solidcopy.impairments.added.placed import (
    AudioHz,
    InterferenceToNoise,
    OffsetHz,
    Reach,
    SignalToInterference,
    frequency_in,
    level_of,
    put_into,
    refuse_level_not_once,
    refuse_place_not_once,
)
from solidcopy.impairments.area import lines
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level
from solidcopy.signals import power
from solidcopy.signals.tone import tone

STEADY_HALF_WIDTH_HZ = 20.0
"""A tone cut to a slot's length keeps all but 0.1 % of its power so close to its frequency."""
SHOWN_HALF_WIDTH_HZ, KEYED_HALF_WIDTH_HZ = 10.0, 100.0
"""Outlines of a steady and of a keyed carrier; of keying at 60 words a minute a tenth lies
beyond."""
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
    gate: Gate | None = Field(None, description="pauses; left out: it is there all the time")

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
        if self.keying is not None and self.keying.is_hard:
            made = _hard_keyed(self.keying, scene, generator, carrier_hz, phase_rad)
        else:
            made = _softly_keyed(self.keying, scene, generator, carrier_hz, phase_rad)
        return gated(made, self.gate, scene, generator)

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe; fields that are younger than recipe 1 only where they are given."""
        numbers = self.model_dump(mode="json", exclude=set() if self.gate else {"gate"})
        keying = self.keying.identity() if self.keying else None
        return {**numbers, "keying": keying, "recipe": self.recipe}


def _softly_keyed(
    keying: MorseKeying | None,
    scene: Scene,
    generator: np.random.Generator,
    carrier_hz: float,
    phase_rad: float,
) -> Disturbance:
    samples = tone(
        frequency_hz=carrier_hz,
        phase_rad=phase_rad,
        n_samples=scene.n_samples,
        sample_rate_hz=scene.sample_rate_hz,
    )
    share_on, half_width_hz, shown_hz = 1.0, STEADY_HALF_WIDTH_HZ, SHOWN_HALF_WIDTH_HZ
    if keying is not None:
        amplitude = keying.amplitude(
            n_samples=scene.n_samples, sample_rate_hz=scene.sample_rate_hz, generator=generator
        )
        samples *= amplitude
        share_on = power.mean_power(amplitude)
        half_width_hz = 3000.0 / keying.edge_ms  # three times 1 / edge
        shown_hz = KEYED_HALF_WIDTH_HZ
    return Disturbance(
        samples=samples,
        reference_power=share_on / 2.0,
        spread_db=0.0,
        occupied_hz=(carrier_hz - half_width_hz, carrier_hz + half_width_hz),
        share_on=share_on,
        areas=lines([carrier_hz], shown_hz, slot_s=scene.duration_s),
    )


def _hard_keyed(
    keying: MorseKeying,
    scene: Scene,
    generator: np.random.Generator,
    carrier_hz: float,
    phase_rad: float,
) -> Disturbance:
    band = keying.click_band.band_about(carrier_hz, sample_rate_hz=scene.sample_rate_hz)
    baseband = hard_keyed(
        keying.edges_s(duration_s=scene.duration_s, generator=generator),
        band,
        carrier_hz=carrier_hz,
        n_samples=scene.n_samples,
        sample_rate_hz=scene.sample_rate_hz,
    )
    low_hz, high_hz = band.feet_hz
    made = put_into(
        scene,
        baseband,
        frequency_hz=carrier_hz,
        phase_rad=phase_rad,
        reach=Reach(carrier_hz - low_hz, high_hz - carrier_hz),
    )
    return replace(
        made,
        share_on=2.0 * made.reference_power,
        areas=lines([carrier_hz], KEYED_HALF_WIDTH_HZ, slot_s=scene.duration_s),
    )
