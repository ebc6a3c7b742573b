"""A teleprinter over radio (RTTY): two tones, start and stop elements, five for a character."""

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
from solidcopy.modes.plain_text import ita2
from solidcopy.signals.waveform import AnalyticSamples

REACH_ELEMENT_RATES = 4.0
"""Beyond its tones, so many times the speed holds all but 0.3 % of its power (measured)."""


class Teleprinter(BaseModel):
    """Frequency-shift keying of continuous phase; the stated frequency is midway of the tones."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["teleprinter"] = "teleprinter"
    audio_hz: AudioHz = None
    offset_hz: OffsetHz = None
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    speed_bd: float = Field(
        45.45, ge=20.0, le=300.0, description="elements per second; usual: 45.45, 50, 75"
    )
    shift_hz: float = Field(
        170.0, ge=20.0, le=1000.0, description="between the tones, Hz; usual: 170, 425, 850"
    )
    stop_elements: float = Field(
        1.5, ge=1.0, le=3.0, description="length of the stop in elements; usual: 1, 1.5, 2"
    )
    mark: Literal["lower", "upper"] = Field(
        "lower", description="which tone is the mark (stop and idle)"
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
    def _is_in_the_alphabet(cls, text: str) -> str:
        if text == RANDOM_TEXT:
            return text
        unknown = ita2.unknown_characters(text.upper())
        if unknown:
            raise ValueError(
                f'no combination for "{unknown[0]}"; use letters, figures, blanks, -?:().,\'=/+'
            )
        return text.upper()

    def level(self) -> Level:
        """The asked ratio, of the mean over the slot; with pauses, of the mean over them too."""
        return level_of(self)

    @property
    def reach(self) -> Reach:
        """About midway of the tones."""
        return Reach.around(self.shift_hz / 2.0 + REACH_ELEMENT_RATES * self.speed_bd)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """In the midst of a transmission: start in the text, phase and random letters drawn."""
        frequency_hz = frequency_in(scene, self, reach=self.reach, name="a teleprinter")
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
        """Unit phasors about midway of the tones, (n_samples,)."""
        character_s = (1 + ita2.N_ELEMENTS + self.stop_elements) / self.speed_bd
        n_characters = math.ceil(scene.duration_s / character_s) + 1
        is_mark, durations_s = self.elements(
            one_round(self.text, generator, n_characters=n_characters)
        )
        round_s = float(durations_s.sum())
        start_s = generator.uniform(0.0, round_s)
        n_rounds = math.ceil((start_s + scene.duration_s) / round_s)
        mark_hz = -self.shift_hz / 2.0 if self.mark == "lower" else self.shift_hz / 2.0
        cycles = np.where(is_mark, mark_hz, -mark_hz) * durations_s
        # Between the ends of elements the phase runs along straight lines, at any sample rate.
        ends_s = np.concatenate([[0.0], np.cumsum(np.tile(durations_s, n_rounds))])
        ends_cycles = np.concatenate([[0.0], np.cumsum(np.tile(cycles, n_rounds))])
        times_s = start_s + np.arange(scene.n_samples) / scene.sample_rate_hz
        return np.asarray(np.exp(2j * np.pi * np.interp(times_s, ends_s, ends_cycles)))

    def elements(self, text: str) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
        """Marks (True) and spaces of a text and their lengths in s, both (7 * n_values,).

        Each value is a start (space), five elements and a stop (mark).
        """
        data = ita2.elements_of(ita2.combinations_of(text))
        is_mark = np.pad(data, ((0, 0), (1, 1)))
        is_mark[:, -1] = True
        lengths = np.ones(is_mark.shape)
        lengths[:, -1] = self.stop_elements
        return is_mark.ravel(), lengths.ravel() / self.speed_bd

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
