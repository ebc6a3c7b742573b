"""Impulses: an electric fence, a lamp dimmer, ignition, arcs, static.

Equal mean power says little here: sparse impulses are kinder than Gaussian noise, an exactly
periodic train is a comb of carriers. So rate, pulse, timing law, peak and mean are all stated.
"""

from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added.pulse import AnyPulse, Burst, Click, Ring, pulse_table
from solidcopy.impairments.added.pulse_train import (
    PhaseLaw,
    Train,
    noise_bursts,
    repeated_pulses,
)
from solidcopy.impairments.added.timing import Timing, TimingLaw
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed, one_level, refuse_not_one
from solidcopy.signals import filters

PASSBAND_SKIRT_HZ = 100.0
RATE_LIMITS_PER_S = (0.05, 5000.0)


class Impulses(BaseModel):
    """A train of impulses that comes through a receiver's passband."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["impulses"] = "impulses"
    rate_per_s: Swept = Field(description="impulses per second on average, 0.05 to 5000")
    timing: TimingLaw = Field(
        description='"random": independent (Poisson); "periodic": exactly every 1 / rate; '
        '"jittered": periodic, each moved evenly within the jitter to either side'
    )
    jitter_ms: Swept | None = Field(
        None, description="for jittered timing: largest move to either side, ms"
    )
    jitter_share: Swept | None = Field(
        None, description="the same as a share of the period, 0 to 0.5; give one of the two"
    )
    pulse: AnyPulse = Field(Click(), description="shape of one impulse: click, ring or burst")
    phase: PhaseLaw = Field(
        "random",
        description='of clicks and rings: "same" in all; "alternating" polarity; '
        '"random-polarity"; "random" carrier phase',
    )
    low_hz: float = Field(
        200.0, ge=PASSBAND_SKIRT_HZ, le=20_000, description="lower edge of the passband, Hz"
    )
    high_hz: float = Field(
        2900.0, le=24_000, description="upper edge (6 dB down; 60 dB down 100 Hz beyond), Hz"
    )
    signal_to_interference_db: Swept | None = Field(
        None, description="wanted power over the expected mean power of the train, dB"
    )
    interference_to_noise_db: Swept | None = Field(
        None, description="its expected mean power over the noise power in 2500 Hz, dB"
    )

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_not_one(
            signal_to_interference_db=self.signal_to_interference_db,
            interference_to_noise_db=self.interference_to_noise_db,
        )
        if self.timing == "jittered":
            refuse_not_one(jitter_ms=self.jitter_ms, jitter_share=self.jitter_share)
        elif self.jitter_ms is not None or self.jitter_share is not None:
            raise ValueError(f'{self.timing} timing has no jitter; write timing = "jittered"')
        return self

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        lowest, highest = RATE_LIMITS_PER_S
        if not isinstance(self.rate_per_s, str) and not lowest <= self.rate_per_s <= highest:
            raise ValueError(
                f"rate_per_s is {self.rate_per_s:g}; it may be {lowest:g} to {highest:g}"
            )
        if not isinstance(self.jitter_share, str | None) and not 0.0 <= self.jitter_share <= 0.5:
            raise ValueError(f"jitter_share is {self.jitter_share:g}; it may be 0 to 0.5")
        if not isinstance(self.jitter_ms, str | None) and not 0.0 <= self.jitter_ms <= 10_000.0:
            raise ValueError(f"jitter_ms is {self.jitter_ms:g}; it may be 0 to 10000")
        if self.high_hz - self.low_hz < 2.0 * PASSBAND_SKIRT_HZ:
            raise ValueError(
                f"the passband {self.low_hz:g}-{self.high_hz:g} Hz is narrower than "
                f"{2.0 * PASSBAND_SKIRT_HZ:g} Hz; widen it"
            )
        if isinstance(self.pulse, Ring) and not self.low_hz <= self.pulse.ring_hz <= self.high_hz:
            raise ValueError(
                f"ring_hz is {self.pulse.ring_hz:g}, outside the passband "
                f"{self.low_hz:g}-{self.high_hz:g} Hz"
            )
        return self

    def level(self) -> Level:
        """The asked ratio, of the expected mean power."""
        return one_level(self.signal_to_interference_db, self.interference_to_noise_db)

    def law(self) -> Timing:
        """The timing law with every number fixed."""
        rate = fixed(self.rate_per_s, "rate_per_s")
        if self.jitter_ms is not None:
            return Timing(self.timing, rate, fixed(self.jitter_ms, "jitter_ms") / 1000.0)
        if self.jitter_share is not None:
            return Timing(self.timing, rate, fixed(self.jitter_share, "jitter_share") / rate)
        return Timing(self.timing, rate)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """The train over a slot; pulses that begin before it reach into it."""
        band = filters.fitting_band(
            self.low_hz,
            self.high_hz,
            skirt_hz=PASSBAND_SKIRT_HZ,
            sample_rate_hz=scene.sample_rate_hz,
        )
        train = Train(self.law(), band, scene)
        if isinstance(self.pulse, Burst):
            return noise_bursts(self.pulse, train, generator)
        table = pulse_table(self.pulse, band, scene.sample_rate_hz)
        return repeated_pulses(table, self.phase, train, generator)

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
