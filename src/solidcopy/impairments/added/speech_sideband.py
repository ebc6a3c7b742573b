"""A telephony station on one sideband: somebody calling beside, above or on the digital signals."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added import sidebands
from solidcopy.impairments.added.placed import (
    InterferenceToNoise,
    SignalToInterference,
    frequency_in,
    level_of,
    refuse_level_not_once,
    refuse_place_not_once,
)
from solidcopy.impairments.added.programme import Delivery, Spectrum, draw_programme
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept
from solidcopy.signals import filters
from solidcopy.signals.band_noise import skirted_amplitude

VOICE_SKIRT_HZ = 100.0
"""Beyond the edges of the transmitter's voice filter, where it is 6 dB down; nothing beyond."""


class SpeechSideband(BaseModel):
    """Speech-like noise on a single sideband with suppressed carrier (J3E), pauses included."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["speech-sideband"] = "speech-sideband"
    audio_hz: Swept | None = Field(
        None, description="where its suppressed carrier lies in the audio, Hz; may be negative"
    )
    offset_hz: Swept | None = Field(
        None, description="suppressed carrier's distance from the lowest wanted tone, Hz"
    )
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    sideband: Literal["upper", "lower"] = Field(
        "upper", description='"upper": upright; "lower": the speech is inverted'
    )
    voice_low_hz: float = Field(
        300.0, ge=100.0, le=1000.0, description="lower edge of the voice filter, Hz"
    )
    voice_high_hz: float = Field(
        2700.0, ge=1500.0, le=5000.0, description="upper edge of the voice filter, Hz"
    )
    swell_db: float = Field(
        4.5, ge=0.0, le=10.0, description="spread of the level from syllable to syllable, dB"
    )
    phrase_s: float = Field(2.5, ge=0.5, le=60.0, description="mean length of a phrase, s")
    pause_s: float = Field(
        0.6, ge=0.0, le=10.0, description="mean length of a pause, s; 0: without pauses"
    )
    low_hz: float = Field(
        200.0, ge=100.0, le=20_000.0, description="lower edge of the receiver's passband, Hz"
    )
    high_hz: float = Field(2900.0, le=24_000.0, description="upper edge of the passband, Hz")

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        sidebands.refuse_narrow(self.low_hz, self.high_hz)
        return self

    def level(self) -> Level:
        """The asked ratio, of what comes through the passband: mean over the slot with pauses."""
        return level_of(self)

    def delivery(self) -> Delivery:
        """Syllables about four a second, phrases and pauses.

        Source: 3 to 4 Hz is where the modulation spectrum of running speech has its maximum
            (from memory, unchecked).
        """
        return Delivery(self.swell_db, 4.0, self.phrase_s, self.pause_s)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """One slot of speech; its level refers to the mean of this very slot, exactly."""
        band = sidebands.passband(self.low_hz, self.high_hz, scene)
        voice_hz = (self.voice_low_hz, self.voice_high_hz)
        voice_filter = filters.Band(*voice_hz, skirt_hz=VOICE_SKIRT_HZ)
        sent_hz = voice_hz if self.sideband == "upper" else (-voice_hz[1], -voice_hz[0])
        carrier_hz = frequency_in(
            scene,
            self,
            reach=sidebands.reach_to_be_heard(sent_hz, band, scene),
            name="a speech sideband's suppressed carrier",
        )
        programme = draw_programme(
            "speech",
            self.delivery(),
            highest_hz=voice_filter.feet_hz[1],
            slot_s=scene.duration_s,
            generator=generator,
        )
        voice = _voice_band(programme.spectrum(), voice_filter, programme.circle_s)
        is_upper = self.sideband == "upper"
        sent = sidebands.Sidebands(
            upper=voice if is_upper else None,
            lower=None if is_upper else np.conj(voice),
            carrier=0.0,
            circle_s=programme.circle_s,
        )
        samples, mean_power = sidebands.heard(
            sent,
            band,
            scene,
            carrier_hz=carrier_hz,
            phase_rad=generator.uniform(0.0, 2.0 * math.pi),
        )
        return Disturbance(
            samples=samples,
            reference_power=mean_power,
            spread_db=0.0,
            occupied_hz=band.feet_hz,
            share_on=programme.share_talking(scene.duration_s),
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def _voice_band(spectrum: Spectrum, voice: filters.Band, circle_s: int) -> Spectrum:
    """Behind the transmitter's voice filter; double, as one sideband holds all of the power."""
    low_hz, high_hz = voice.feet_hz
    inside = slice(math.ceil(low_hz * circle_s), math.floor(high_hz * circle_s) + 1)
    place = np.arange(inside.start, inside.stop)
    sent = np.zeros_like(spectrum)
    sent[inside] = 2.0 * skirted_amplitude(voice, place / circle_s) * spectrum[inside]
    return sent
