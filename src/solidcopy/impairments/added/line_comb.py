"""A comb of lines: harmonics of a clock or of a switching supply, a display's row frequency."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added.limits import refuse_outside
from solidcopy.impairments.added.placed import (
    InterferenceToNoise,
    Reach,
    SignalToInterference,
    at_frequency,
    frequency_in,
    level_of,
    refuse_level_not_once,
    refuse_place_not_once,
)
from solidcopy.impairments.added.wander import drift_turns
from solidcopy.impairments.added.wavetable import one_period, read_period
from solidcopy.impairments.area import lines as lines_at
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed

LINE_HALF_WIDTH_HZ = 20.0
"""A line cut to a slot's length keeps all but 0.1 % of its power so close."""
SHOWN_HALF_WIDTH_HZ = 10.0
"""Of a line's outline."""
WANDER_MEMORY_S = 5.0
"""A free-running oscillator wanders within seconds (common practice, no source)."""


class LineComb(BaseModel):
    """Evenly spaced lines that drift together."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["line-comb"] = "line-comb"
    audio_hz: Swept | None = Field(None, description="audio frequency of the lowest line, Hz")
    offset_hz: Swept | None = Field(
        None, description="lowest line's distance from the lowest wanted tone, Hz"
    )
    spacing_hz: Swept = Field(description="from line to line, 1 to 10000 Hz")
    n_lines: int = Field(ge=1, le=500, description="number of lines")
    slope_db_per_line: float = Field(
        0.0, ge=-20.0, le=20.0, description="change of level from line to line, dB"
    )
    phase: Literal["random", "aligned"] = Field(
        "random", description='"aligned": all lines meet once per 1 / spacing, a pulse train'
    )
    drift_hz_per_s: Swept = Field(
        0.0, description="common drift, -1000 to 1000 Hz/s; frequencies hold at mid-slot"
    )
    wander_hz: float = Field(
        0.0, ge=0.0, le=100.0, description="common slow wander, standard deviation, Hz"
    )
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        refuse_outside(self.spacing_hz, field="spacing_hz", low=1.0, high=10_000.0)
        refuse_outside(self.drift_hz_per_s, field="drift_hz_per_s", low=-1000.0, high=1000.0)
        return self

    def level(self) -> Level:
        """The asked ratio, of all lines together."""
        return level_of(self)

    def amplitudes(self) -> NDArray[np.float64]:
        """Of the lines, (n_lines,); the strongest is 1, so that no slope passes the numbers."""
        levels_db = self.slope_db_per_line * np.arange(self.n_lines)
        amplitudes: NDArray[np.float64] = 10.0 ** ((levels_db - levels_db.max()) / 20.0)
        return amplitudes

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """All lines over a slot; its level refers to the mean of this very slot."""
        spacing_hz = fixed(self.spacing_hz, "spacing_hz")
        drift_hz_per_s = fixed(self.drift_hz_per_s, "drift_hz_per_s")
        sway_hz = abs(drift_hz_per_s) * scene.duration_s / 2.0 + 4.0 * self.wander_hz
        width_hz = spacing_hz * (self.n_lines - 1)
        margin_hz = sway_hz + LINE_HALF_WIDTH_HZ
        reach = Reach(below_hz=margin_hz, above_hz=width_hz + margin_hz)
        lowest_hz = frequency_in(scene, self, reach=reach, name="the lowest line of a comb")
        lines = self.amplitudes().astype(np.complex128)
        if self.phase == "random":
            lines *= np.exp(2j * math.pi * generator.random(self.n_lines))
        cycles = generator.random() + spacing_hz / scene.sample_rate_hz * np.arange(scene.n_samples)
        baseband = read_period(one_period(lines), cycles)
        squared = np.square(baseband.real)
        squared += np.square(baseband.imag)
        if sway_hz > 0.0:
            baseband *= drift_turns(
                drift_hz_per_s=drift_hz_per_s,
                wander_hz=self.wander_hz,
                memory_s=WANDER_MEMORY_S,
                scene=scene,
                generator=generator,
            )
        return Disturbance(
            samples=at_frequency(
                baseband,
                frequency_hz=lowest_hz,
                phase_rad=generator.uniform(0.0, 2.0 * math.pi),
                sample_rate_hz=scene.sample_rate_hz,
            ),
            reference_power=float(squared.mean()) / 2.0,
            spread_db=0.0,
            occupied_hz=reach.band(lowest_hz),
            areas=lines_at(
                lowest_hz + spacing_hz * np.arange(self.n_lines),
                sway_hz + SHOWN_HALF_WIDTH_HZ,
                slot_s=scene.duration_s,
            ),
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
