"""A carrier modulated in frequency: a telephony station, a supply's hum on a weak oscillator."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
import scipy.fft
import scipy.special
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added.limits import refuse_outside
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
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed

LINE_HALF_WIDTH_HZ = 20.0
"""A line cut to a slot's length keeps all but 0.1 % of its power so close."""
POWER_LEFT = 1e-4
"""Share of a tone's power that its outermost counted side lines may leave out."""
NOISE_PEAK = 4.0
"""Gaussian deviation beyond so many standard deviations is neglected: 6 in 100 000."""
NOISE_LOW_SHARE = 0.1
"""Modulating noise reaches from this share of its highest frequency up to it."""
GUARD_TIMES = 4.0
"""Modulating noise runs in a circle longer than the slot by so many times 1 / (its lowest)."""


class FrequencyModulatedCarrier(BaseModel):
    """A carrier of steady amplitude whose frequency swings with a tone or with noise."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["frequency-modulated-carrier"] = "frequency-modulated-carrier"
    audio_hz: AudioHz = None
    offset_hz: OffsetHz = None
    modulation: Literal["tone", "noise"] = Field(
        "tone", description='"tone": one frequency; "noise": Gaussian, flat over a decade'
    )
    modulating_hz: Swept = Field(
        100.0, description="modulating tone, or highest modulating noise, 1 to 5000 Hz"
    )
    deviation_hz: Swept = Field(
        description="of the frequency, 0 to 10000 Hz: a tone's peak, a noise's standard deviation"
    )
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        refuse_outside(self.modulating_hz, field="modulating_hz", low=1.0, high=5000.0)
        refuse_outside(self.deviation_hz, field="deviation_hz", low=0.0, high=10_000.0)
        return self

    def level(self) -> Level:
        """The asked ratio; the mean power is that of the bare carrier, whatever the swing."""
        return level_of(self)

    def carson_width_hz(self) -> float:
        """Twice the sum of the peak deviation and the modulating frequency: 98 % of the power.

        Source: Carson's rule, a fact of the trade (from memory). Of noise, the peak is taken as
            NOISE_PEAK standard deviations.
        """
        return 2.0 * (self._peak_deviation_hz() + fixed(self.modulating_hz, "modulating_hz"))

    def half_width_hz(self) -> float:
        """Farthest from the carrier that any power to speak of lies."""
        if self.modulation == "noise":
            return self.carson_width_hz() / 2.0 + LINE_HALF_WIDTH_HZ
        modulating_hz = fixed(self.modulating_hz, "modulating_hz")
        order = outermost_line(self._peak_deviation_hz() / modulating_hz)
        return order * modulating_hz + LINE_HALF_WIDTH_HZ

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """A carrier that is swinging already; phases of carrier and modulation are drawn."""
        reach = Reach.around(self.half_width_hz())
        carrier_hz = frequency_in(scene, self, reach=reach, name="a frequency-modulated carrier")
        time_s = np.arange(scene.n_samples) / scene.sample_rate_hz
        phase_rad = self._swing_rad(scene, time_s, generator)
        phase_rad += 2.0 * math.pi * carrier_hz * time_s
        phase_rad += generator.uniform(0.0, 2.0 * math.pi)
        return Disturbance(
            samples=np.cos(phase_rad, out=phase_rad),
            reference_power=0.5,
            spread_db=0.0,
            occupied_hz=reach.band(carrier_hz),
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}

    def _peak_deviation_hz(self) -> float:
        deviation_hz = fixed(self.deviation_hz, "deviation_hz")
        return deviation_hz if self.modulation == "tone" else NOISE_PEAK * deviation_hz

    def _swing_rad(
        self, scene: Scene, time_s: NDArray[np.float64], generator: np.random.Generator
    ) -> NDArray[np.float64]:
        """Phase that the modulation adds, (n_samples,)."""
        modulating_hz = fixed(self.modulating_hz, "modulating_hz")
        deviation_hz = fixed(self.deviation_hz, "deviation_hz")
        if self.modulation == "noise":
            return deviation_hz * _integrated_noise(scene, modulating_hz, generator)
        start_rad = generator.uniform(0.0, 2.0 * math.pi)
        swing = np.sin(2.0 * math.pi * modulating_hz * time_s + start_rad)
        swing *= deviation_hz / modulating_hz
        return swing


def outermost_line(modulation_index: float) -> int:
    """Order of the side line beyond which less than POWER_LEFT of the power lies.

    Source: textbook: line n of a tone-modulated carrier holds J_n(index)^2 of the power.
    """
    orders = np.arange(1, math.ceil(modulation_index) + 40)
    sides = 2.0 * np.square(scipy.special.jv(orders, modulation_index))
    inside = scipy.special.jv(0, modulation_index) ** 2 + np.cumsum(sides)
    return int(orders[np.argmax(inside > 1.0 - POWER_LEFT)])


def _integrated_noise(
    scene: Scene, highest_hz: float, generator: np.random.Generator
) -> NDArray[np.float64]:
    """2 pi times the integral of flat Gaussian noise of unit power, (n_samples,) rad per Hz.

    Integrated line by line, so the sample rate does not matter.
    """
    lowest_hz = NOISE_LOW_SHARE * highest_hz
    circle_s = math.ceil(scene.duration_s + GUARD_TIMES / lowest_hz)
    n_circle = circle_s * scene.sample_rate_hz
    first, last = max(math.ceil(lowest_hz * circle_s), 1), math.floor(highest_hz * circle_s)
    parts = generator.standard_normal((2, last + 1 - first))
    lines = np.zeros(n_circle // 2 + 1, dtype=np.complex128)
    # Unit power: a line of unit draws, with its mirror image, holds 4 in the mean square.
    lines[first : last + 1] = (parts[0] + 1j * parts[1]) / math.sqrt(4.0 * parts.shape[1])
    lines[first : last + 1] /= 1j * np.arange(first, last + 1) / circle_s
    phase: NDArray[np.float64] = scipy.fft.irfft(lines, n_circle, norm="forward")
    return phase[: scene.n_samples]
