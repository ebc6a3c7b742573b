"""Hum and buzz of the mains: a ground loop, a rectifier, an ageing supply."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.placed import (
    InterferenceToNoise,
    SignalToInterference,
    level_of,
    refuse_level_not_once,
)
from solidcopy.impairments.added.wander import wander_cycles
from solidcopy.impairments.added.wavetable import one_period, read_period
from solidcopy.impairments.area import lines as lines_at
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level

WANDER_MEMORY_S = 30.0
"""A mains frequency forgets itself within about half a minute (from memory, unchecked)."""
MARGIN_HZ = 15.0
SHOWN_HALF_WIDTH_HZ = 8.0
"""Of a line's outline."""
"""Kept around each line: a tone cut to a slot's length spreads a little."""


class MainsHum(BaseModel):
    """Harmonics of the mains frequency, locked to each other, as a slow hum or a sharp buzz."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["mains-hum"] = "mains-hum"
    mains_hz: float = Field(
        50.0, ge=15.0, le=70.0, description="nominal mains frequency, 50 or 60 Hz as a rule"
    )
    frequency_error_hz: float = Field(
        0.0, ge=-5.0, le=5.0, description="steady deviation from the nominal, Hz"
    )
    wander_hz: float = Field(
        0.02, ge=0.0, le=2.0, description="slow wander, standard deviation, Hz"
    )
    sound: Literal["hum", "buzz"] = Field(
        "hum", description='"hum": random phases of the harmonics; "buzz": aligned, a pulse train'
    )
    harmonics: Literal["all", "odd", "even"] = Field(
        "all", description='"even": twice per mains cycle, as behind a rectifier'
    )
    fall_db_per_octave: float = Field(
        9.0, ge=0.0, le=40.0, description="harmonics' fall; a buzz: 0 to 6, a hum: 6 to 18"
    )
    lowest_hz: float = Field(15.0, ge=15.0, le=5000.0, description="none below, Hz")
    highest_hz: float = Field(2900.0, ge=50.0, le=20_000.0, description="none above, Hz")
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        refuse_level_not_once(self)
        if self.numbers().size == 0:
            raise ValueError(
                f"no {self.harmonics} harmonic of {self.mains_hz:g} Hz lies between "
                f"{self.lowest_hz:g} and {self.highest_hz:g} Hz; widen lowest_hz to highest_hz"
            )
        return self

    def level(self) -> Level:
        """The asked ratio, of all harmonics together."""
        return level_of(self)

    def numbers(self) -> NDArray[np.int64]:
        """Which harmonics there are, by the nominal frequency; 1 is the mains frequency itself."""
        first = max(math.ceil(self.lowest_hz / self.mains_hz), 1)
        numbers = np.arange(first, math.floor(self.highest_hz / self.mains_hz) + 1)
        is_kept = {"all": numbers > 0, "odd": numbers % 2 == 1, "even": numbers % 2 == 0}
        kept: NDArray[np.int64] = numbers[is_kept[self.harmonics]]
        return kept

    def amplitudes(self) -> NDArray[np.float64]:
        """Of the harmonics in `numbers`, the lowest being 1."""
        numbers = self.numbers()
        exponent = -self.fall_db_per_octave / (20.0 * math.log10(2.0))
        amplitudes: NDArray[np.float64] = (numbers / numbers[0]) ** exponent
        return amplitudes

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """One slot, starting anywhere in a mains cycle; the expected power is the lines' sum."""
        numbers, amplitudes = self.numbers(), self.amplitudes()
        fundamental_hz = self.mains_hz + self.frequency_error_hz
        sway_hz = 4.0 * self.wander_hz
        low_hz = numbers[0] * (fundamental_hz - sway_hz) - MARGIN_HZ
        high_hz = numbers[-1] * (fundamental_hz + sway_hz) + MARGIN_HZ
        if high_hz > scene.half_rate_hz:
            raise CalibrationError(
                f"harmonics up to {high_hz - MARGIN_HZ:.6g} Hz are asked; they may reach "
                f"{scene.half_rate_hz - MARGIN_HZ:g} Hz at {scene.sample_rate_hz} samples per "
                "second; lower highest_hz or raise audio.sample_rate_hz"
            )
        lines = np.zeros(int(numbers[-1]) + 1, dtype=np.complex128)
        # Drawn even for a buzz, so that the two sounds meet the same wander.
        turns = generator.random(numbers.size)
        lines[numbers] = amplitudes
        if self.sound == "hum":
            lines[numbers] *= np.exp(2j * math.pi * turns)
        cycles = generator.random() + fundamental_hz / scene.sample_rate_hz * np.arange(
            scene.n_samples
        )
        if self.wander_hz > 0.0:
            cycles += wander_cycles(
                rms_hz=self.wander_hz,
                memory_s=WANDER_MEMORY_S,
                n_samples=scene.n_samples,
                sample_rate_hz=scene.sample_rate_hz,
                generator=generator,
            )
        return Disturbance(
            samples=read_period(np.ascontiguousarray(one_period(lines).real), cycles),
            reference_power=float(np.square(amplitudes).sum()) / 2.0,
            spread_db=0.0,
            occupied_hz=(low_hz, high_hz),
            areas=lines_at(
                numbers * fundamental_hz,
                float(numbers[-1]) * sway_hz + SHOWN_HALF_WIDTH_HZ,
                slot_s=scene.duration_s,
            ),
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
