"""What every impairment offers. An impairment is a value: all numbers fixed, no chance inside.

There are three families: a path acts on the wanted signal, an added disturbance is added to it,
and a block of the receiver's chain acts on the sum.
"""

from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

import numpy as np

from solidcopy.impairments.area import Areas
from solidcopy.impairments.level import Level
from solidcopy.signals.waveform import AnalyticSamples, Samples


@dataclass(frozen=True, slots=True)
class Scene:
    """What an added disturbance may know of the slot that it is put into."""

    sample_rate_hz: int
    n_samples: int
    wanted_audio_hz: float
    """Lowest tone of the wanted signal, for frequencies given relative to it."""
    wanted_width_hz: float
    """Nominal width of the wanted signal."""
    slot_late_s: float = 0.0
    """By how much the receiver's slot begins after the true one; what keeps slots comes earlier."""

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
    texts: tuple[str, ...] = ()
    """Messages that other stations send in it: who copies them makes no mistake."""
    areas: Areas | None = None
    """Where it lies, most of its power within; None: in all of its band, all the time; empty: it
    is not there in this slot."""

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


@dataclass(frozen=True, slots=True, eq=False)
class Transmission:
    """The wanted signal on its way to the receiver."""

    samples: AnalyticSamples
    """(n_samples,) complex128, its first sample at `begins_s`; may be overwritten."""
    sample_rate_hz: int
    begins_s: float
    """Since the beginning of the path's process: that of the first of the trials that share it."""
    process_s: float
    """Length of that process; the transmission lies within it, but for its delay."""

    @property
    def times_s(self) -> Samples:
        """(n_samples,) of every sample since the beginning of the path's process."""
        return self.begins_s + np.arange(self.samples.size) / self.sample_rate_hz


@dataclass(frozen=True, slots=True, eq=False)
class Arrival:
    """The wanted signal as it arrives."""

    samples: AnalyticSamples
    """(at least n_samples,) complex128 from the same instant on; delays make it longer."""
    shift_hz: float = 0.0
    """Mean shift of frequency: where a receiver should find it."""
    delay_s: float = 0.0
    """Mean delay."""
    widening_hz: tuple[float, float] = (0.0, 0.0)
    """How far its band may reach lower (negative) and higher than it was sent."""


class Path(Protocol):
    """One thing that happens between the sender and the receiver.

    Its mean power gain is 0 dB in expectation, so that an SNR is the mean over fading.
    """

    recipe: ClassVar[int]
    """Raised whenever the samples made from the same numbers change."""

    @property
    def kind(self) -> str:
        """Name in a plan file."""

    @property
    def n_together(self) -> int:
        """Trials in a row that meet one continuous process; 1: each meets one of its own."""

    def propagate(self, sent: Transmission, generator: np.random.Generator) -> Arrival:
        """The signal as it arrives; the same draws for every trial that shares the process.

        Raises: CalibrationError if it cannot be made at this rate.
        """

    def identity(self) -> dict[str, Any]:
        """Everything that can alter the samples, recipe included; JSON values only."""


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """The sum of everything on its way through the receiver."""

    samples: Samples
    """(n_samples,) float64, which may be overwritten: the slot, with a run-in on both sides."""
    sample_rate_hz: int
    """Wider than that of the recording in front of the channel filter."""


class ChainBlock(Protocol):
    """One block of the receiver's chain. Blocks act in the order of their `place`."""

    recipe: ClassVar[int]
    """Raised whenever the samples made from the same numbers change."""
    place: ClassVar[int]
    """Where it stands in a receiver; see impairments/chain/places.py."""
    is_wideband: ClassVar[bool]
    """Whether it stands in front of the channel filter and works at the internal rate."""
    fixes_full_scale: ClassVar[bool]
    """Whether its output must not be scaled any more: the steps of a converter are absolute."""

    @property
    def kind(self) -> str:
        """Name in a plan file."""

    @property
    def on(self) -> bool:
        """False: as if it were not there."""

    @property
    def late_s(self) -> float:
        """By how much the slot's edge of this receiver is later than the true one."""

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """(n_samples,) float64 after the block.

        Raises: CalibrationError if it cannot work at this rate.
        """

    def identity(self) -> dict[str, Any]:
        """Everything that can alter the samples, recipe included; JSON values only."""
