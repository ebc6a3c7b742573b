"""What every impairment offers. An impairment is a value: all numbers fixed, no chance inside."""

from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

import numpy as np

from solidcopy.impairments.level import Level
from solidcopy.signals.waveform import Samples


@dataclass(frozen=True, slots=True)
class Scene:
    """What an added disturbance may know of the slot that it is put into."""

    sample_rate_hz: int
    n_samples: int
    wanted_audio_hz: float
    """Lowest tone of the wanted signal, for frequencies given relative to it."""
    wanted_width_hz: float
    """Nominal width of the wanted signal."""

    @property
    def duration_s(self) -> float:
        """Length of the slot."""
        return self.n_samples / self.sample_rate_hz

    @property
    def half_rate_hz(self) -> float:
        """No frequency beyond it exists in the samples."""
        return self.sample_rate_hz / 2.0

    @property
    def wanted_middle_hz(self) -> float:
        """Middle of the wanted signal's nominal width."""
        return self.wanted_audio_hz + self.wanted_width_hz / 2.0


@dataclass(frozen=True, slots=True)
class Draw:
    """What the draws of one slot did to its power: chance that is known, and chance that is not.

    A slot with seven of five expected impulses is not a faulty mix. So the power that follows
    from the draws is worked out, and a reading is held against that.
    """

    power_ratio: float
    """Power that this slot should hold, its draws known, over the expected power."""
    residual_spread_db: float
    """Standard deviation, in dB, by which the samples may still differ from that."""


@dataclass(frozen=True, slots=True, eq=False)
class Disturbance:
    """Samples of one added disturbance, not yet scaled to its asked level."""

    samples: Samples
    """(n_samples,) float64, owned by the caller from here on."""
    reference_power: float
    """The power that the asked level refers to, in the units of `samples` squared: what the
    mean is *expected* to be over the slot, or for noise what 2500 Hz of it hold."""
    spread_db: float
    """Standard deviation, in dB, by which the power of one slot differs from the expected."""
    occupied_hz: tuple[float, float]
    """The band in which its power must be found when the recording is measured."""
    share_on: float = 1.0
    """Share of the slot during which a gated disturbance is on (1 = always)."""
    draw: Draw | None = None
    """None: nothing is known beyond `spread_db`."""

    @property
    def drawn(self) -> Draw:
        """What the draws did; for plain noise, nothing known."""
        return self.draw or Draw(1.0, self.spread_db)


class Added(Protocol):
    """One added disturbance."""

    recipe: ClassVar[int]
    """Raised whenever the samples made from the same numbers change."""

    @property
    def kind(self) -> str:
        """Name in a plan file."""

    def level(self) -> Level:
        """The asked level, every number fixed."""

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """The disturbance over a whole slot; every draw from `generator`.

        Raises: CalibrationError if it cannot be made in this scene (band beyond half the
        sample rate, ...), with a sentence that says what is allowed.
        """

    def identity(self) -> dict[str, Any]:
        """Everything that can alter the samples, recipe included; JSON values only."""
