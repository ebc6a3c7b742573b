"""Wide multi-tone FSK whose tones carry Walsh functions: a robust keyboard mode next door."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, field_validator, model_validator

from solidcopy.impairments.added.gate import Gate, gated
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
from solidcopy.impairments.added.running_text import RANDOM_TEXT, SentText, one_round
from solidcopy.impairments.added.walsh_blocks import N_BLOCK, tones_of
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level
from solidcopy.signals.waveform import AnalyticSamples


class MultiTone(BaseModel):
    """2 to 64 tones; the stated frequency is the middle of its width."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["multi-tone"] = "multi-tone"
    audio_hz: AudioHz = None
    offset_hz: OffsetHz = None
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    n_tones: Literal[2, 4, 8, 16, 32, 64] = Field(32, description="number of tones, 2 to 64")
    width_hz: float = Field(
        1000.0,
        ge=250.0,
        le=2000.0,
        description="nominal width, Hz; over the number of tones it gives spacing and speed",
    )
    text: SentText = RANDOM_TEXT
    gate: Gate | None = Field(None, description="pauses; left out: it sends all the time")

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        return self

    @field_validator("text")
    @classmethod
    def _is_seven_bits(cls, text: str) -> str:
        if not text.isascii():
            raise ValueError("use the characters of ASCII")
        return text

    def level(self) -> Level:
        """The asked ratio, of the mean over the slot; with pauses, of the mean over them too."""
        return level_of(self)

    @property
    def n_bits(self) -> int:
        """Bits of a symbol, and characters of a block."""
        return self.n_tones.bit_length() - 1

    @property
    def spacing_hz(self) -> float:
        """Between neighbouring tones; also symbols per second, which makes them orthogonal."""
        return self.width_hz / self.n_tones

    @property
    def reach(self) -> Reach:
        """Half the width and one spacing more."""
        return Reach.around(self.width_hz / 2.0 + self.spacing_hz)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """In the midst of a transmission: start, phases and random characters drawn."""
        frequency_hz = frequency_in(scene, self, reach=self.reach, name="a multi-tone signal")
        phase_rad = generator.uniform(0.0, 2.0 * math.pi)
        steady = put_into(
            scene,
            self.baseband(scene, generator),
            frequency_hz=frequency_hz,
            phase_rad=phase_rad,
            reach=self.reach,
        )
        return gated(steady, self.gate, scene, generator)

    def baseband(self, scene: Scene, generator: np.random.Generator) -> AnalyticSamples:
        """Shaped symbols about the middle of the width, (n_samples,)."""
        n_symbols = math.ceil(scene.duration_s * self.spacing_hz) + 2
        n_blocks = -(-n_symbols // N_BLOCK) + 1
        text = one_round(self.text, generator, n_characters=n_blocks * self.n_bits)
        tones = self.tones(text)
        start_symbols = generator.uniform(0.0, tones.size)
        first = math.floor(start_symbols)
        sent = tones[(first + np.arange(n_symbols)) % tones.size]
        return shaped_symbols(
            (sent - (self.n_tones - 1) / 2.0).astype(np.float64),
            np.cumsum(generator.choice([-0.25, 0.25], n_symbols)),
            start_symbols
            - first
            + self.spacing_hz * np.arange(scene.n_samples) / scene.sample_rate_hz,
        )

    def tones(self, text: str) -> NDArray[np.int64]:
        """Tones of a text in whole blocks, blanks at its end where one is not full."""
        n_characters = -(-len(text) // self.n_bits) * self.n_bits
        characters = np.array([ord(letter) for letter in text.ljust(n_characters)], dtype=np.int64)
        return tones_of(characters.reshape(-1, self.n_bits))

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def shaped_symbols(
    tones: NDArray[np.float64], turns: NDArray[np.float64], place: NDArray[np.float64]
) -> AnalyticSamples:
    """Each symbol a tone that rises along a raised cosine to its middle and falls after it.

    Args:
        tones: (n_symbols,) in spacings, which are symbol rates too.
        turns: (n_symbols,) phase at the middle of each, in turns.
        place: (n_samples,) time in symbols from the middle of the first, below n_symbols - 1.
    Returns: (n_samples,); a single tone would have unit amplitude.
    """
    before = place.astype(np.int64)
    share = place - before
    rise = 0.5 - 0.5 * np.cos(np.pi * share)
    fading = np.exp(2j * np.pi * (turns[before] + tones[before] * share))
    coming = np.exp(2j * np.pi * (turns[before + 1] + tones[before + 1] * (share - 1.0)))
    fading *= 1.0 - rise
    coming *= rise
    return np.asarray(fading + coming)
