"""A carrier that sweeps through the audio: a sounder, a sweeping supply, somebody tuning."""

import math
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.limits import refuse_outside
from solidcopy.impairments.added.placed import (
    InterferenceToNoise,
    SignalToInterference,
    level_of,
    refuse_level_not_once,
)
from solidcopy.impairments.area import Area
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed
from solidcopy.signals import power

N_STEPS = 60
"""Into which a slot is cut for the outline of a sweep."""
SHOWN_HALF_WIDTH_HZ = 20.0


@dataclass(frozen=True, slots=True)
class _Sweep:
    """One passage, every number fixed."""

    from_hz: float
    slope_hz_per_s: float
    duration_s: float
    edge_s: float


class SweepingCarrier(BaseModel):
    """A carrier whose frequency runs evenly from one end to the other, once or over and over."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["sweeping-carrier"] = "sweeping-carrier"
    from_hz: Swept = Field(description="audio frequency at which a sweep begins, Hz")
    to_hz: Swept = Field(description="at which it ends, Hz; lower for a falling sweep")
    sweep_hz_per_s: Swept = Field(
        description="pace of the sweep, 0.1 to 1000000 Hz/s (sounders: about 100000)"
    )
    pattern: Literal["single", "saw-tooth"] = Field(
        "saw-tooth",
        description='"saw-tooth": over and over; "single": one passage, wholly within the slot, or '
        "the slot wholly within a longer passage",
    )
    pause_s: Annotated[float, Field(ge=0.0, le=3600.0)] | None = Field(
        None, description="silence between sweeps of a saw-tooth, s; left out: none"
    )
    edge_ms: float = Field(
        5.0, ge=1.0, le=100.0, description="soft start and end of each sweep, ms"
    )
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        refuse_level_not_once(self)
        refuse_outside(self.sweep_hz_per_s, field="sweep_hz_per_s", low=0.1, high=1e6)
        if self.from_hz == self.to_hz:
            raise ValueError("from_hz and to_hz are the same; use a carrier for a steady one")
        if self.pattern == "single" and self.pause_s is not None:
            raise ValueError('a single sweep has no pause_s; write pattern = "saw-tooth"')
        return self

    def level(self) -> Level:
        """The asked ratio, of the mean over the slot, silences included."""
        return level_of(self)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Sweeps of equal amplitude, each with a phase of its own; the level is this slot's."""
        sweep = self._sweep(scene)
        time_s = np.arange(scene.n_samples) / scene.sample_rate_hz
        start_s = self._draw_start_s(sweep, scene, generator)
        number = np.zeros(scene.n_samples)
        if self.pattern == "saw-tooth":
            number = np.floor((time_s - start_s) / self._round_s(sweep))
        phases = generator.random(int(number[-1] - number[0]) + 1)
        into_s = time_s - start_s - self._round_s(sweep) * number
        cycles = into_s * (sweep.from_hz + 0.5 * sweep.slope_hz_per_s * into_s)
        cycles += phases[(number - number[0]).astype(np.int64)]
        amplitude = _soft_ends(into_s, sweep)
        mean_square = power.mean_power(amplitude)
        amplitude *= np.cos(2.0 * math.pi * np.mod(cycles, 1.0))
        # Three times 1 / edge, as of a keyed carrier.
        beyond_hz = 3.0 / sweep.edge_s
        low_hz, high_hz = sorted((sweep.from_hz, fixed(self.to_hz, "to_hz")))
        return Disturbance(
            samples=amplitude,
            reference_power=mean_square / 2.0,
            spread_db=0.0,
            occupied_hz=(low_hz - beyond_hz, high_hz + beyond_hz),
            share_on=mean_square,
            areas=_along(into_s, sweep, scene),
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}

    def _round_s(self, sweep: _Sweep) -> float:
        """From the start of one sweep to that of the next."""
        return sweep.duration_s + (self.pause_s or 0.0)

    def _draw_start_s(self, sweep: _Sweep, scene: Scene, generator: np.random.Generator) -> float:
        """When a sweep starts, 0 being the first sample.

        A saw-tooth is anywhere in its round; if that is longer than the slot, anywhere such that
        half a sweep, or half the slot, is on.
        """
        room_s = scene.duration_s - sweep.duration_s
        if self.pattern == "single":
            return generator.uniform(min(room_s, 0.0), max(room_s, 0.0))
        if self._round_s(sweep) <= scene.duration_s:
            return generator.uniform(0.0, self._round_s(sweep))
        least_on_s = min(sweep.duration_s, scene.duration_s) / 2.0
        return generator.uniform(least_on_s - sweep.duration_s, scene.duration_s - least_on_s)

    def _sweep(self, scene: Scene) -> _Sweep:
        """One passage. CalibrationError if it does not fit the sampled band or is too quick."""
        from_hz, to_hz = fixed(self.from_hz, "from_hz"), fixed(self.to_hz, "to_hz")
        edge_s = self.edge_ms / 1000.0
        # Half of 1 / edge: the edges of a sweep widen it by about that much.
        margin_hz = 0.5 / edge_s
        for end_hz in (from_hz, to_hz):
            if not margin_hz <= end_hz <= scene.half_rate_hz - margin_hz:
                raise CalibrationError(
                    f"a sweep from {from_hz:g} to {to_hz:g} Hz is asked; with edges of "
                    f"{self.edge_ms:g} ms it may lie between {margin_hz:g} and "
                    f"{scene.half_rate_hz - margin_hz:g} Hz at {scene.sample_rate_hz} samples "
                    "per second"
                )
        pace_hz_per_s = fixed(self.sweep_hz_per_s, "sweep_hz_per_s")
        duration_s = abs(to_hz - from_hz) / pace_hz_per_s
        if duration_s < 2.0 * edge_s:
            raise CalibrationError(
                f"a sweep of {abs(to_hz - from_hz):g} Hz at {pace_hz_per_s:g} Hz/s lasts "
                f"{1000.0 * duration_s:.3g} ms; it must last at least two edges "
                f"({2.0 * self.edge_ms:g} ms): shorten edge_ms, widen or slow it"
            )
        slope_hz_per_s = math.copysign(pace_hz_per_s, to_hz - from_hz)
        return _Sweep(from_hz, slope_hz_per_s, duration_s, edge_s)


def _along(into_s: NDArray[np.float64], sweep: _Sweep, scene: Scene) -> tuple[Area, ...]:
    """Steps along the sweeps, each as high as the carrier runs meanwhile."""
    n_step = max(scene.n_samples // N_STEPS, 1)
    areas = []
    for first in range(0, scene.n_samples, n_step):
        piece = into_s[first : first + n_step]
        on = piece[(piece >= 0.0) & (piece <= sweep.duration_s)]
        if on.size:
            ends_s = np.array([on.min(), on.max()])
            ends_hz = np.sort(sweep.from_hz + sweep.slope_hz_per_s * ends_s)
            last = min(first + n_step, scene.n_samples)
            areas.append(
                Area(
                    first / scene.sample_rate_hz,
                    last / scene.sample_rate_hz,
                    float(ends_hz[0]) - SHOWN_HALF_WIDTH_HZ,
                    float(ends_hz[1]) + SHOWN_HALF_WIDTH_HZ,
                )
            )
    return tuple(areas)


def _soft_ends(into_s: NDArray[np.float64], sweep: _Sweep) -> NDArray[np.float64]:
    """Amplitude 0..1 at a time after the start of a sweep: half a cosine up and down."""
    from_end_s = np.minimum(into_s, sweep.duration_s - into_s)
    risen = np.clip(from_end_s / sweep.edge_s, 0.0, 1.0)
    amplitude: NDArray[np.float64] = 0.5 - 0.5 * np.cos(math.pi * risen)
    return amplitude
