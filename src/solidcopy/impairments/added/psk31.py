"""PSK31, ITU-R M.2034 (02/2013): a keyboard neighbour 31 Hz wide."""

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
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level
from solidcopy.modes.plain_text import varicode
from solidcopy.signals.waveform import Samples

SPEED_BD = 31.25
REACH = Reach.around(2.0 * SPEED_BD)
"""Beyond it the sidebands of reversals are 40 dB down and fall by 18 dB an octave."""
FEWEST_BITS = 4
"""Of the commonest letter, its gap included: no text has more characters for its bits."""


class Psk31(BaseModel):
    """Binary phase-shift keying, the envelope passing zero along a cosine at each reversal."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["psk31"] = "psk31"
    audio_hz: AudioHz = None
    offset_hz: OffsetHz = None
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    text: SentText = RANDOM_TEXT
    gate: Gate | None = Field(None, description="pauses; left out: it sends all the time")

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        return self

    @field_validator("text")
    @classmethod
    def _is_in_the_alphabet(cls, text: str) -> str:
        unknown = sorted(set(text) - set(varicode.CODE))
        if unknown:
            raise ValueError(f'no code for "{unknown[0]}"; use the characters of ASCII')
        return text

    def level(self) -> Level:
        """The asked ratio, of the mean over the slot; with pauses, of the mean over them too."""
        return level_of(self)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """In the midst of a transmission: start in the text, phase and random letters drawn."""
        frequency_hz = frequency_in(scene, self, reach=REACH, name="a PSK31 signal")
        phase_rad = generator.uniform(0.0, 2.0 * math.pi)
        n_symbols = math.ceil(scene.duration_s * SPEED_BD) + 2
        text = one_round(self.text, generator, n_characters=n_symbols // FEWEST_BITS + 1)
        # Random letters are sent small: that is how people type, and the codes are shorter.
        bits = varicode.bits_of(text.lower() if self.text == RANDOM_TEXT else text)
        start_symbols = generator.uniform(0.0, bits.size)
        first = math.floor(start_symbols)
        amplitude = reversing_amplitude(
            bits[(first + np.arange(n_symbols)) % bits.size],
            scene,
            start_symbols=start_symbols - first,
        )
        steady = put_into(
            scene,
            amplitude.astype(np.complex128),
            frequency_hz=frequency_hz,
            phase_rad=phase_rad,
            reach=REACH,
        )
        return gated(steady, self.gate, scene, generator)

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def reversing_amplitude(bits: NDArray[np.bool_], scene: Scene, *, start_symbols: float) -> Samples:
    """Amplitude -1..1 whose sign turns on every 0 (False) and stays on every 1.

    Between the middles of two symbols it runs along half a cosine, or is steady.

    Args:
        bits: (n_symbols,) enough for the slot.
        start_symbols: place in them at which the slot begins.
    Returns: (n_samples,).
    """
    signs = np.cumprod(np.where(bits, 1.0, -1.0))
    place = start_symbols + SPEED_BD * np.arange(scene.n_samples) / scene.sample_rate_hz
    symbol = place.astype(np.int64)
    before, after = signs[symbol], signs[symbol + 1]
    turn = np.cos(np.pi * (place - symbol))
    return np.asarray(0.5 * (before + after) + 0.5 * (before - after) * turn)
