"""The drifting hump of noise that a switch-mode supply leaves at each multiple of its frequency."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
import scipy.fft
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
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
from solidcopy.impairments.area import Area
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed
from solidcopy.signals.filters import NoiseFigures
from solidcopy.signals.waveform import AnalyticSamples

N_STEPS = 30
"""Into which a slot is cut for the outline of one that drifts."""
FOOT_WIDTHS = 1.5
"""The hump is cut so many widths from its centre: 54 dB down."""
GUARD_WIDTHS = 4.0
"""Its noise runs in a circle longer than the slot by so many times 1 / width."""
WANDER_MEMORY_S = 5.0
"""A free-running supply wanders within seconds (common practice, no source)."""


class SwitchModeHump(BaseModel):
    """Gaussian noise in a bell-shaped hump whose centre drifts and wanders."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["switch-mode-hump"] = "switch-mode-hump"
    audio_hz: Swept | None = Field(
        None, description="centre of the hump at mid-slot, audio frequency in Hz"
    )
    offset_hz: Swept | None = Field(
        None, description="centre's distance from the lowest wanted tone, Hz"
    )
    width_hz: Swept = Field(description="between the points 6 dB down, 5 to 3000 Hz")
    drift_hz_per_s: Swept = Field(0.0, description="steady drift, -1000 to 1000 Hz/s")
    wander_hz: float = Field(
        0.0, ge=0.0, le=500.0, description="slow wander, standard deviation, Hz"
    )
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        refuse_outside(self.width_hz, field="width_hz", low=5.0, high=3000.0)
        refuse_outside(self.drift_hz_per_s, field="drift_hz_per_s", low=-1000.0, high=1000.0)
        return self

    def level(self) -> Level:
        """The asked ratio, of the expected mean power."""
        return level_of(self)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Noise drawn line by line about 0 Hz and carried along by the moving centre."""
        width_hz = fixed(self.width_hz, "width_hz")
        drift_hz_per_s = fixed(self.drift_hz_per_s, "drift_hz_per_s")
        sway_hz = abs(drift_hz_per_s) * scene.duration_s / 2.0 + 4.0 * self.wander_hz
        reach = Reach.around(FOOT_WIDTHS * width_hz + sway_hz)
        centre_hz = frequency_in(scene, self, reach=reach, name="the centre of a hump")
        baseband, figures = _bell_noise(scene, width_hz, generator)
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
                frequency_hz=centre_hz,
                phase_rad=0.0,  # the noise has a random phase already
                sample_rate_hz=scene.sample_rate_hz,
            ),
            reference_power=figures.mean_power,
            spread_db=units.db_from_ratio(1.0 + figures.relative_spread(scene.duration_s)),
            occupied_hz=reach.band(centre_hz),
            areas=self._areas(centre_hz, scene),
        )

    def _areas(self, centre_hz: float, scene: Scene) -> tuple[Area, ...]:
        """Steps along its way, wide enough for its wander."""
        width_hz = fixed(self.width_hz, "width_hz")
        drift_hz_per_s = fixed(self.drift_hz_per_s, "drift_hz_per_s")
        n_steps = N_STEPS if drift_hz_per_s else 1
        step_s = scene.duration_s / n_steps
        # A bell three quarters of a width to either side holds 99 % of its power.
        half_hz = 0.75 * width_hz + 4.0 * self.wander_hz + abs(drift_hz_per_s) * step_s / 2.0
        middles_s = step_s * (np.arange(n_steps) + 0.5)
        centres_hz = centre_hz + drift_hz_per_s * (middles_s - scene.duration_s / 2.0)
        return tuple(
            Area(at - step_s / 2.0, at + step_s / 2.0, middle - half_hz, middle + half_hz)
            for at, middle in zip(middles_s.tolist(), centres_hz.tolist(), strict=True)
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def _bell_noise(
    scene: Scene, width_hz: float, generator: np.random.Generator
) -> tuple[AnalyticSamples, NoiseFigures]:
    """Complex noise whose density is a Gaussian bell about 0 Hz, (n_samples,), and its figures.

    Source: derived here. A quarter of the density at half a width: exp(-ln 4 (2 f / width)^2).
    """
    circle_s = math.ceil(scene.duration_s + GUARD_WIDTHS / width_hz)
    n_circle = circle_s * scene.sample_rate_hz
    foot = math.floor(FOOT_WIDTHS * width_hz * circle_s)
    place = np.arange(-foot, foot + 1)
    powers = np.exp(-math.log(4.0) * np.square(2.0 * place / (circle_s * width_hz)))
    parts = generator.standard_normal((2, place.size)) * np.sqrt(powers)
    lines = np.zeros(n_circle, dtype=np.complex128)
    lines[place % n_circle] = parts[0] + 1j * parts[1]
    noise = scipy.fft.ifft(lines, norm="forward", overwrite_x=True)[: scene.n_samples].copy()
    total = float(powers.sum())
    effective_hz = total**2 / float(np.square(powers).sum()) / circle_s
    # E|X|^2 = 2 for unit draws, and the real part of the moved noise holds half of it.
    return noise, NoiseFigures(total, effective_hz)
