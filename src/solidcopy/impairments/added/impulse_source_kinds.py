"""Sources of impulses found near a station, in the words of those who own them.

What each emits is a model of ours: the rates follow from how the machine works, jitter and
scatter are common practice, no source.
"""

import math
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added.pulse import Burst
from solidcopy.impairments.added.pulse_train import Train, noise_bursts
from solidcopy.impairments.added.spark_train import (
    Sparks,
    draw_powers,
    mean_square_power,
    sparks_through,
)
from solidcopy.impairments.added.switching import OnOff
from solidcopy.impairments.added.timing import Timing
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT
from solidcopy.signals import filters

HIGHEST_SPARKS_PER_S = 2500.0
"""More overlap in a passband of 2.7 kHz, until nothing tells them from Gaussian noise."""

RelativeDb = Annotated[
    float,
    Field(
        ge=-60.0, le=60.0, description="expected mean power relative to the others of the list, dB"
    ),
]
SpreadDb = Annotated[
    float,
    Field(ge=0.0, le=10.0, description="standard deviation of the level from spark to spark, dB"),
]
JitterShare = Annotated[
    float,
    Field(ge=0.0, le=0.5, description="largest move of a spark to either side, share of a period"),
]


class ElectricFence(BaseModel):
    """A fence energiser arcing over at a bad insulator: about once a second, a few ms long.

    Source: the safety standard for energisers (IEC 60335-2-76) allows about one pulse a second, of
    at most 10 ms (from memory, unchecked).
    """

    model_config = STRICT
    kind: Literal["electric-fence"] = "electric-fence"
    relative_db: RelativeDb = 0.0
    period_s: float = Field(1.3, ge=0.5, le=10.0, description="from pulse to pulse, s")
    jitter_ms: float = Field(
        10.0, ge=0.0, le=200.0, description="largest move of a pulse to either side, ms"
    )
    pulse_ms: float = Field(3.0, ge=0.5, le=100.0, description="length of the arc, ms")

    def synthesise(
        self, band: filters.Band, scene: Scene, generator: np.random.Generator
    ) -> Disturbance:
        """Bursts of noise."""
        timing = Timing("jittered", 1.0 / self.period_s, self.jitter_ms / 1000.0)
        shape = Burst(length_ms=self.pulse_ms, edge_ms=min(0.3, self.pulse_ms / 4.0))
        return noise_bursts(shape, Train(timing, band, scene), generator)


class Ignition(BaseModel):
    """Sparks of a petrol engine: rpm x cylinders / 120 a second for four strokes, / 60 for two.

    Source: FACTS D4 (from memory, arithmetic verified: 4 cylinders at 3000 rpm give 100 a second).
    """

    model_config = STRICT
    kind: Literal["ignition"] = "ignition"
    relative_db: RelativeDb = 0.0
    engine_rpm: float = Field(ge=100.0, le=20_000.0, description="speed of the engine, rpm")
    n_cylinders: int = Field(4, ge=1, le=16, description="number of cylinders")
    n_strokes: Literal[2, 4] = Field(4, description="strokes of a working cycle, 2 or 4")
    jitter_share: JitterShare = 0.02
    spread_db: SpreadDb = 2.0

    @property
    def sparks_per_s(self) -> float:
        """Expected number a second."""
        return self.engine_rpm * self.n_cylinders / (30.0 * self.n_strokes)

    @property
    def _timing(self) -> Timing:
        return Timing("jittered", self.sparks_per_s, self.jitter_share / self.sparks_per_s)

    def draw_sparks(self, generator: np.random.Generator, *, from_s: float, to_s: float) -> Sparks:
        """Every spark comes."""
        starts_s = self._timing.draw_starts(generator, from_s=from_s, to_s=to_s)
        return Sparks(starts_s, draw_powers(starts_s.size, self.spread_db, generator))

    def relative_spread(self, duration_s: float) -> float:
        """Of n sparks that come anyway: the scatter of their powers, and the number's."""
        scatter = mean_square_power(self.spread_db) - 1.0
        return math.hypot(
            math.sqrt(scatter / (self.sparks_per_s * duration_s)),
            self._timing.relative_count_spread(duration_s),
        )

    def crowding(self, duration_s: float) -> float:
        """They come evenly."""
        return 1.0

    def synthesise(
        self, band: filters.Band, scene: Scene, generator: np.random.Generator
    ) -> Disturbance:
        """Clicks."""
        return sparks_through(self, band, scene, generator)


class Motor(BaseModel):
    """A commutator motor: a chance of a spark whenever a segment leaves a brush."""

    model_config = STRICT
    kind: Literal["motor"] = "motor"
    relative_db: RelativeDb = 0.0
    speed_rpm: float = Field(ge=60.0, le=60_000.0, description="speed of the motor, rpm")
    n_segments: int = Field(12, ge=2, le=120, description="segments of the commutator")
    p_spark: float = Field(0.6, gt=0.01, le=1.0, description="share of segments that spark")
    jitter_share: JitterShare = 0.3
    spread_db: SpreadDb = 4.0

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        if self.sparks_per_s > HIGHEST_SPARKS_PER_S:
            raise ValueError(
                f"{self.sparks_per_s:.0f} sparks a second are asked; at most "
                f"{HIGHEST_SPARKS_PER_S:.0f} are made: so many are noise, use band-noise"
            )
        return self

    @property
    def sparks_per_s(self) -> float:
        """Expected number a second."""
        return self._segments_per_s * self.p_spark

    @property
    def _segments_per_s(self) -> float:
        return self.speed_rpm * self.n_segments / 60.0

    def draw_sparks(self, generator: np.random.Generator, *, from_s: float, to_s: float) -> Sparks:
        """Some segments spark, at random."""
        rate = self._segments_per_s
        timing = Timing("jittered", rate, self.jitter_share / rate)
        starts_s = timing.draw_starts(generator, from_s=from_s, to_s=to_s)
        starts_s = starts_s[generator.random(starts_s.size) < self.p_spark]
        return Sparks(starts_s, draw_powers(starts_s.size, self.spread_db, generator))

    def relative_spread(self, duration_s: float) -> float:
        """Of n segments, each with a power of mean p and mean square p E[power²]."""
        scatter = mean_square_power(self.spread_db) / self.p_spark - 1.0
        return math.sqrt(scatter / (self._segments_per_s * duration_s))

    def crowding(self, duration_s: float) -> float:
        """They come evenly."""
        return 1.0

    def synthesise(
        self, band: filters.Band, scene: Scene, generator: np.random.Generator
    ) -> Disturbance:
        """Clicks."""
        return sparks_through(self, band, scene, generator)


class MainsArc(BaseModel):
    """An arc on a power line or in a fitting: sparks around the peaks of the voltage, with gaps.

    Source: twice a cycle at the peaks, or on one polarity only (public pages, FACTS D4); how long
    an arc burns and rests: no source.
    """

    model_config = STRICT
    kind: Literal["mains-arc"] = "mains-arc"
    relative_db: RelativeDb = 0.0
    mains_hz: Literal[50, 60] = Field(50, description="frequency of the mains, 50 or 60 Hz")
    peaks: Literal["both", "one"] = Field(
        "both", description='"both": twice a cycle; "one": at one polarity only'
    )
    sparks_per_peak: float = Field(
        4.0, ge=0.2, le=25.0, description="sparks around one peak on average (Poisson)"
    )
    width_ms: float = Field(
        2.0, ge=0.1, le=8.0, description="stretch of time around a peak in which they come, ms"
    )
    arcing_s: float = Field(3.0, ge=0.05, le=600.0, description="mean time of arcing, s")
    quiet_s: float = Field(
        2.0, ge=0.0, le=600.0, description="mean time of rest between, s; 0: it never rests"
    )
    spread_db: SpreadDb = 4.0

    @property
    def _burning(self) -> OnOff:
        return OnOff(self.arcing_s, self.quiet_s)

    @property
    def _peaks_per_s(self) -> float:
        return self.mains_hz * (2.0 if self.peaks == "both" else 1.0)

    @property
    def sparks_per_s(self) -> float:
        """Expected number a second, rests included."""
        return self._peaks_per_s * self.sparks_per_peak * self._burning.share_on

    def draw_sparks(self, generator: np.random.Generator, *, from_s: float, to_s: float) -> Sparks:
        """Peaks, then sparks around each, then those that fall into rests left out."""
        edge_s = self.width_ms / 2000.0
        peaks_s = Timing("periodic", self._peaks_per_s).draw_starts(
            generator, from_s=from_s - edge_s, to_s=to_s + edge_s
        )
        starts_s = np.repeat(peaks_s, generator.poisson(self.sparks_per_peak, peaks_s.size))
        starts_s += generator.uniform(-edge_s, edge_s, starts_s.size)
        switched_s = self._burning.draw_switchings(generator, from_s=from_s, to_s=to_s)
        is_on = np.searchsorted(switched_s, starts_s) % 2 == 1
        starts_s = starts_s[is_on & (starts_s >= from_s) & (starts_s < to_s)]
        inside_s = np.clip(switched_s, max(from_s, 0.0), to_s)
        on_s = float(np.sum(inside_s[1::2] - inside_s[::2]))
        return Sparks(
            starts_s,
            draw_powers(starts_s.size, self.spread_db, generator),
            share_on=max(on_s / (to_s - max(from_s, 0.0)), 1e-6),
        )

    def relative_spread(self, duration_s: float) -> float:
        """Of the time of arcing, and of Poisson sparks with scattered powers within it."""
        scatter = mean_square_power(self.spread_db) / (self.sparks_per_s * duration_s)
        return math.hypot(math.sqrt(scatter), self._burning.relative_spread(duration_s))

    def crowding(self, duration_s: float) -> float:
        """Inside the stretches around peaks while it burns."""
        return 1000.0 / (self.width_ms * self._peaks_per_s * self._burning.share_on)

    def synthesise(
        self, band: filters.Band, scene: Scene, generator: np.random.Generator
    ) -> Disturbance:
        """Clicks."""
        return sparks_through(self, band, scene, generator)


AnyImpulseSource = Annotated[
    ElectricFence | Ignition | Motor | MainsArc, Field(discriminator="kind")
]
"""Any source of impulses, told apart by `kind`."""
