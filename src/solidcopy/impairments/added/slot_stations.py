"""Other stations of a slotted mode: one neighbour, or a crowded band."""

import math
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.errors import CalibrationError
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
from solidcopy.impairments.area import Area
from solidcopy.impairments.impairment import Disturbance, Draw, Scene
from solidcopy.impairments.level import STRICT, Level
from solidcopy.modes.mode import Mode
from solidcopy.modes.registry import mode_named
from solidcopy.signals import power
from solidcopy.signals.waveform import Samples

ModeName = Annotated[Literal["ft8", "ft4"], Field(description="the mode it sends")]
StartSpread = Annotated[
    float,
    Field(
        ge=0, le=2.5, description="starts lie evenly this far to both sides of the nominal one, s"
    ),
]


@dataclass(frozen=True, slots=True, eq=False)
class _Sent:
    """One station over the whole scene, with unit amplitude."""

    samples: Samples
    share_on: float
    texts: tuple[str, ...]
    areas: tuple[Area, ...]


def _send(
    mode: Mode, scene: Scene, audio_hz: float, spread_s: float, generator: np.random.Generator
) -> _Sent:
    """A new message in each of the mode's slots that the scene holds.

    A scene shorter than a slot is one of its parts, drawn; a transmission that reaches beyond
    the scene is cut there.
    """
    facts, rate = mode.facts, scene.sample_rate_hz
    n_parts = max(1, round(facts.slot_s / scene.duration_s))
    earlier_s = scene.slot_late_s + int(generator.integers(n_parts)) * scene.duration_s
    n_slots = max(1, round(scene.duration_s / facts.slot_s))
    samples, n_on, texts = np.zeros(scene.n_samples), 0, []
    areas: list[Area] = []
    for slot in range(n_slots):
        message = mode.draw_message(generator)
        offset_s = generator.uniform(-spread_s, spread_s)
        analytic = mode.modulate(
            mode.encode(message),
            sample_rate_hz=rate,
            audio_hz=audio_hz,
            phase_rad=generator.uniform(0.0, 2.0 * math.pi),
        )
        start_s = slot * facts.slot_s + facts.nominal_start_s + offset_s - earlier_s
        first = round(start_s * rate)
        start, stop = max(first, 0), min(first + analytic.size, scene.n_samples)
        if start < stop:
            samples[start:stop] += analytic.real[start - first : stop - first]
            n_on += stop - start
            texts.append(message.text)
            areas.append(Area(start / rate, stop / rate, *facts.reach_hz(audio_hz)))
    return _Sent(samples, min(n_on / scene.n_samples, 1.0), tuple(texts), tuple(areas))


class SlotStation(BaseModel):
    """A neighbour that sends in the same slots; its frequency is that of its lowest tone."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["slot-station"] = "slot-station"
    mode: ModeName = "ft8"
    audio_hz: AudioHz = None
    offset_hz: OffsetHz = None
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    start_spread_s: StartSpread = 0.5

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        return self

    def level(self) -> Level:
        """The asked ratio, of the mean over the slot, its pauses included."""
        return level_of(self)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Message, start and phase drawn; the level refers to the mean of its own slot, exactly."""
        mode = mode_named(self.mode)
        width_hz = mode.facts.width_hz
        reach = Reach(width_hz, 2.0 * width_hz)
        audio_hz = frequency_in(scene, self, reach=reach, name=f"an {self.mode} station")
        sent = _send(mode, scene, audio_hz, self.start_spread_s, generator)
        return Disturbance(
            samples=sent.samples,
            reference_power=sent.share_on / 2.0,
            spread_db=0.0,
            occupied_hz=reach.band(audio_hz),
            share_on=sent.share_on,
            texts=sent.texts,
            areas=sent.areas,
        )

    def identity(self) -> dict[str, Any]:
        """Numbers, recipe and the recipe of the mode."""
        recipes = [self.recipe, mode_named(self.mode).facts.recipe]
        return {**self.model_dump(mode="json"), "recipe": recipes}


class SlotCrowd(BaseModel):
    """A crowded band: stations all over it whose levels in dB are drawn evenly."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["slot-crowd"] = "slot-crowd"
    mode: ModeName = "ft8"
    n_stations: Annotated[int, Field(ge=1, le=50)] = Field(20, description="number of stations")
    low_hz: Annotated[float, Field(ge=0, le=24_000)] = Field(
        300.0, description="lowest of the lowest tones, Hz"
    )
    high_hz: Annotated[float, Field(ge=0, le=24_000)] = Field(
        2600.0, description="highest of the lowest tones, Hz"
    )
    level_range_db: Annotated[float, Field(ge=0, le=80)] = Field(
        30.0, description="levels lie evenly within so many dB below the strongest possible, dB"
    )
    clear_hz: Annotated[float, Field(ge=0, le=2000)] = Field(
        0.0, description="kept free to both sides of the wanted signal, Hz; 0: they may cover it"
    )
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    start_spread_s: StartSpread = 0.5

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_level_not_once(self)
        if self.low_hz >= self.high_hz:
            raise ValueError(f"low_hz ({self.low_hz:g}) must lie below high_hz ({self.high_hz:g})")
        return self

    def level(self) -> Level:
        """The asked ratio, of what all of them are expected to have in the slot together."""
        return level_of(self)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Frequencies, levels, messages, starts and phases drawn for every slot anew."""
        mode = mode_named(self.mode)
        width_hz = mode.facts.width_hz
        if self.high_hz + 2.0 * width_hz > scene.half_rate_hz or self.low_hz < width_hz:
            raise CalibrationError(
                f"stations from {self.low_hz:g} to {self.high_hz:g} Hz are asked; their lowest "
                f"tones may lie between {width_hz:g} and {scene.half_rate_hz - 2.0 * width_hz:g} "
                f"Hz at {scene.sample_rate_hz} samples per second"
            )
        samples, expected = np.zeros(scene.n_samples), 0.0
        texts: list[str] = []
        areas: list[Area] = []
        mean_ratio, mean_square = self._level_moments()
        for audio_hz in self._frequencies_hz(scene, width_hz, generator):
            gain = units.ratio_from_db(-generator.uniform(0.0, self.level_range_db))
            sent = _send(mode, scene, audio_hz, self.start_spread_s, generator)
            samples += math.sqrt(gain) * sent.samples
            expected += mean_ratio * sent.share_on / 2.0
            texts += sent.texts
            areas += sent.areas
        spread = math.sqrt(max(mean_square / mean_ratio**2 - 1.0, 0.0) / self.n_stations)
        return Disturbance(
            samples=samples,
            reference_power=expected,
            spread_db=units.db_from_ratio(1.0 + spread),
            occupied_hz=(self.low_hz - width_hz, self.high_hz + 2.0 * width_hz),
            draw=Draw(power.mean_power(samples) / expected, 0.0),
            texts=tuple(texts),
            areas=tuple(areas),
        )

    def _level_moments(self) -> tuple[float, float]:
        """Mean and mean square of a power ratio that is even in dB; closed form."""
        if self.level_range_db == 0.0:
            return 1.0, 1.0
        span = self.level_range_db * math.log(10.0) / 10.0
        return -math.expm1(-span) / span, -math.expm1(-2.0 * span) / (2.0 * span)

    def _frequencies_hz(
        self, scene: Scene, width_hz: float, generator: np.random.Generator
    ) -> list[float]:
        """Even over the band, less what is kept clear."""
        closed_low = scene.wanted_audio_hz - width_hz - self.clear_hz
        closed_high = scene.wanted_audio_hz + scene.wanted_width_hz + self.clear_hz
        below = max(min(closed_low, self.high_hz) - self.low_hz, 0.0)
        above = max(self.high_hz - max(closed_high, self.low_hz), 0.0)
        if self.clear_hz == 0.0:
            below, above = self.high_hz - self.low_hz, 0.0
        if below + above <= 0.0:
            raise CalibrationError(
                f"a crowd {self.clear_hz:g} Hz clear of the wanted signal is asked; nothing is "
                f"left of {self.low_hz:g} to {self.high_hz:g} Hz"
            )
        places = generator.uniform(0.0, below + above, self.n_stations)
        return [
            self.low_hz + place if place < below else self.high_hz - (below + above - place)
            for place in places
        ]

    def identity(self) -> dict[str, Any]:
        """Numbers, recipe and the recipe of the mode."""
        recipes = [self.recipe, mode_named(self.mode).facts.recipe]
        return {**self.model_dump(mode="json"), "recipe": recipes}
