"""Disturbances that lie somewhere in the audio: their place and their level, each stated once.

An impairment declares its fields with the types below (default None) and hands itself over:

    audio_hz: AudioHz = None
    offset_hz: OffsetHz = None
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
"""

import math
from dataclasses import dataclass
from typing import Annotated, Protocol

from pydantic import Field

from solidcopy.errors import CalibrationError
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import Level, Swept, fixed, one_level, refuse_not_one
from solidcopy.signals import power
from solidcopy.signals.tone import tone
from solidcopy.signals.waveform import AnalyticSamples, Samples

AudioHz = Annotated[Swept | None, Field(description="audio frequency, Hz")]
OffsetHz = Annotated[
    Swept | None, Field(description="distance from the lowest tone of the wanted signal, Hz")
]
SignalToInterference = Annotated[
    Swept | None, Field(description="wanted power over its mean power in the slot, dB")
]
InterferenceToNoise = Annotated[
    Swept | None,
    Field(description="its mean power over the condition's noise power in 2500 Hz, dB"),
]


class StatesPlace(Protocol):
    """Fields for a frequency, absolute or from the wanted signal; one of them is given."""

    @property
    def audio_hz(self) -> float | str | None:
        """Audio frequency."""

    @property
    def offset_hz(self) -> float | str | None:
        """Distance from the lowest tone of the wanted signal."""


class StatesRatio(Protocol):
    """Fields for a ratio to the wanted signal or to the noise; one of them is given."""

    @property
    def signal_to_interference_db(self) -> float | str | None:
        """Wanted power over this."""

    @property
    def interference_to_noise_db(self) -> float | str | None:
        """This over the noise."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How far a disturbance extends to either side of the frequency that is stated for it."""

    below_hz: float
    above_hz: float

    @classmethod
    def around(cls, half_width_hz: float) -> "Reach":
        """The same to both sides."""
        return cls(half_width_hz, half_width_hz)

    def band(self, frequency_hz: float) -> tuple[float, float]:
        """Its ends, once the frequency is known."""
        return frequency_hz - self.below_hz, frequency_hz + self.above_hz


def refuse_place_not_once(fields: StatesPlace) -> None:
    """ValueError unless exactly one of `audio_hz` and `offset_hz` is given."""
    refuse_not_one(audio_hz=fields.audio_hz, offset_hz=fields.offset_hz)


def refuse_level_not_once(fields: StatesRatio) -> None:
    """ValueError unless exactly one of the two ratios is given."""
    refuse_not_one(
        signal_to_interference_db=fields.signal_to_interference_db,
        interference_to_noise_db=fields.interference_to_noise_db,
    )


def level_of(fields: StatesRatio) -> Level:
    """The asked ratio, its number fixed. Raises PlanError if the axis has not supplied it."""
    return one_level(fields.signal_to_interference_db, fields.interference_to_noise_db)


def frequency_in(scene: Scene, fields: StatesPlace, *, reach: Reach, name: str) -> float:
    """The audio frequency that is asked for in a slot.

    Args:
        reach: all of it must lie between 0 Hz and half the sample rate.
        name: what lies there, for the message: "a carrier".
    Returns: Hz.
    Raises: CalibrationError that says where it may lie, or that it is too wide; PlanError if the
        axis has not supplied the frequency.
    """
    if fields.audio_hz is not None:
        frequency_hz = fixed(fields.audio_hz, "audio_hz")
    else:
        assert fields.offset_hz is not None
        frequency_hz = scene.wanted_audio_hz + fixed(fields.offset_hz, "offset_hz")
    lowest_hz, highest_hz = reach.below_hz, scene.half_rate_hz - reach.above_hz
    at_this_rate = f"at {scene.sample_rate_hz} samples per second"
    if lowest_hz > highest_hz:
        raise CalibrationError(
            f"{name} {reach.below_hz + reach.above_hz:.6g} Hz wide is asked; only "
            f"{scene.half_rate_hz:g} Hz exist {at_this_rate}; raise audio.sample_rate_hz"
        )
    if not lowest_hz <= frequency_hz <= highest_hz:
        raise CalibrationError(
            f"{name} at {frequency_hz:.6g} Hz is asked; it may lie between {lowest_hz:.6g} and "
            f"{highest_hz:.6g} Hz {at_this_rate}"
        )
    return frequency_hz


def at_frequency(
    baseband: AnalyticSamples, *, frequency_hz: float, phase_rad: float, sample_rate_hz: float
) -> Samples:
    """The real signal that a complex baseband makes of a carrier, (n_samples,) float64.

    Args:
        baseband: (n_samples,) complex; where it is 1, the result is a cosine of unit amplitude.
        phase_rad: of the carrier at the first sample.
    """
    in_phase, quadrature = (
        tone(
            frequency_hz=frequency_hz,
            phase_rad=phase_rad + lag_rad,
            n_samples=baseband.size,
            sample_rate_hz=sample_rate_hz,
        )
        for lag_rad in (0.0, -math.pi / 2.0)
    )
    in_phase *= baseband.real
    quadrature *= baseband.imag
    in_phase -= quadrature
    return in_phase


def put_into(
    scene: Scene, baseband: AnalyticSamples, *, frequency_hz: float, phase_rad: float, reach: Reach
) -> Disturbance:
    """A baseband at its frequency; its level refers to the mean of this very slot, exactly.

    Args: as of `at_frequency`; `reach` holds all but 1 % of its power.
    """
    in_phase_power = power.mean_power(baseband.real)
    return Disturbance(
        samples=at_frequency(
            baseband,
            frequency_hz=frequency_hz,
            phase_rad=phase_rad,
            sample_rate_hz=scene.sample_rate_hz,
        ),
        reference_power=(in_phase_power + power.mean_power(baseband.imag)) / 2.0,
        spread_db=0.0,
        occupied_hz=reach.band(frequency_hz),
    )
