"""Static of thunderstorms: crashes of many sparks over the murmur of far storms.

A model of ours: flashes come at random; each is a cluster of discharges that dies away, a few
tenths of a second long; the levels of flashes and of the discharges in them scatter log-normally
(common practice; the default numbers have no source). How impulsive it is, is best judged by its
voltage deviation, as P.372 states atmospheric noise.
"""

import math
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.impairments.added.impulse_sources import sum_of
from solidcopy.impairments.added.impulses import PASSBAND_SKIRT_HZ
from solidcopy.impairments.added.spark_train import (
    Sparks,
    draw_powers,
    mean_square_power,
    sparks_through,
)
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, one_level, refuse_not_one
from solidcopy.signals import filters
from solidcopy.signals.band_noise import band_limited_noise

LONGEST_DECAYS = 9.2
"""Flashes this many decay times before the slot leave 0.01 % of their discharges to it."""
HIGHEST_DISCHARGES_PER_S = 2500.0


@dataclass(frozen=True, slots=True)
class Flashes:
    """Clusters of discharges: how often, how many, how long, how unlike."""

    flashes_per_s: float
    discharges_per_flash: float
    decay_s: float
    flash_spread_db: float
    discharge_spread_db: float

    @property
    def sparks_per_s(self) -> float:
        """Expected discharges a second."""
        return self.flashes_per_s * self.discharges_per_flash

    def draw_sparks(self, generator: np.random.Generator, *, from_s: float, to_s: float) -> Sparks:
        """Flashes, then the discharges of each, those outside left out."""
        first_s = from_s - LONGEST_DECAYS * self.decay_s
        n_flashes = generator.poisson(self.flashes_per_s * (to_s - first_s))
        flashes_s = generator.uniform(first_s, to_s, n_flashes)
        n_discharges = generator.poisson(self.discharges_per_flash, n_flashes)
        powers = np.repeat(draw_powers(n_flashes, self.flash_spread_db, generator), n_discharges)
        powers *= draw_powers(powers.size, self.discharge_spread_db, generator)
        starts_s = np.repeat(flashes_s, n_discharges)
        starts_s += generator.exponential(self.decay_s, starts_s.size)
        is_inside = (starts_s >= from_s) & (starts_s < to_s)
        return Sparks(starts_s[is_inside], powers[is_inside])

    def relative_spread(self, duration_s: float) -> float:
        """Spread of the summed powers over a time.

        Source: derived here: a Poisson number of flashes, each with the sum of a Poisson number of
            powers: E[flash²] (E[discharge²] / n + 1) over the number of flashes. Flashes cut by an
            end of the time average out a little: 1 - (1 - exp(-x)) / x with x = time / decay.
        """
        n_flashes = self.flashes_per_s * duration_s
        alone = mean_square_power(self.discharge_spread_db) / self.discharges_per_flash
        cut = self.decay_s / duration_s
        together = 1.0 - cut * (1.0 - math.exp(-1.0 / cut))
        return math.sqrt(mean_square_power(self.flash_spread_db) * (alone + together) / n_flashes)

    def crowding(self, duration_s: float) -> float:
        """Within a flash that dies away, the mean density of pairs is that of two decay times."""
        within = mean_square_power(self.flash_spread_db)
        return 1.0 + within / (2.0 * self.flashes_per_s * self.decay_s)


class LightningStatic(BaseModel):
    """Crashes of static over a Gaussian murmur, through a receiver's passband."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["lightning-static"] = "lightning-static"
    signal_to_interference_db: Swept | None = Field(
        None, description="wanted power over its expected mean power, dB"
    )
    interference_to_noise_db: Swept | None = Field(
        None, description="its expected mean power over the noise power in 2500 Hz, dB"
    )
    flashes_per_s: float = Field(1.0, ge=0.02, le=50.0, description="flashes a second, at random")
    discharges_per_flash: float = Field(
        60.0, ge=1.0, le=1000.0, description="discharges in a flash on average (Poisson)"
    )
    decay_ms: float = Field(
        80.0, ge=1.0, le=1000.0, description="time in which a flash dies away to 37 %, ms"
    )
    flash_spread_db: float = Field(
        4.0, ge=0.0, le=10.0, description="standard deviation of the level from flash to flash, dB"
    )
    discharge_spread_db: float = Field(
        5.0, ge=0.0, le=10.0, description="the same from discharge to discharge in a flash, dB"
    )
    murmur_share: float = Field(
        0.1, ge=0.0, le=0.99, description="share of the mean power that is Gaussian, of far storms"
    )
    low_hz: float = Field(
        200.0, ge=PASSBAND_SKIRT_HZ, le=20_000, description="lower edge of the passband, Hz"
    )
    high_hz: float = Field(
        2900.0, le=24_000, description="upper edge (6 dB down; 60 dB down 100 Hz beyond), Hz"
    )

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        refuse_not_one(
            signal_to_interference_db=self.signal_to_interference_db,
            interference_to_noise_db=self.interference_to_noise_db,
        )
        if self.high_hz - self.low_hz < 2.0 * PASSBAND_SKIRT_HZ:
            raise ValueError(
                f"the passband {self.low_hz:g}-{self.high_hz:g} Hz is narrower than "
                f"{2.0 * PASSBAND_SKIRT_HZ:g} Hz; widen it"
            )
        if self.flashes().sparks_per_s > HIGHEST_DISCHARGES_PER_S:
            raise ValueError(
                f"{self.flashes().sparks_per_s:.0f} discharges a second are asked; at most "
                f"{HIGHEST_DISCHARGES_PER_S:.0f} are made: give fewer in each flash"
            )
        return self

    def flashes(self) -> Flashes:
        """The clusters, in SI units."""
        return Flashes(
            self.flashes_per_s,
            self.discharges_per_flash,
            self.decay_ms / 1000.0,
            self.flash_spread_db,
            self.discharge_spread_db,
        )

    def level(self) -> Level:
        """The asked ratio, of the expected mean power, murmur included."""
        return one_level(self.signal_to_interference_db, self.interference_to_noise_db)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Crashes and murmur, each with a stream of draws of its own."""
        band = filters.fitting_band(
            self.low_hz,
            self.high_hz,
            skirt_hz=PASSBAND_SKIRT_HZ,
            sample_rate_hz=scene.sample_rate_hz,
        )
        of_flashes, of_murmur = generator.spawn(2)
        crashes = sparks_through(self.flashes(), band, scene, of_flashes)
        if self.murmur_share == 0.0:
            return crashes
        murmur = _murmur(band, scene, of_murmur)
        return sum_of([crashes, murmur], [1.0 - self.murmur_share, self.murmur_share])

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def _murmur(band: filters.Band, scene: Scene, generator: np.random.Generator) -> Disturbance:
    samples, figures = band_limited_noise(
        band,
        n_samples=scene.n_samples,
        sample_rate_hz=scene.sample_rate_hz,
        generator=generator,
    )
    return Disturbance(
        samples=samples,
        reference_power=figures.mean_power,
        spread_db=units.db_from_ratio(1.0 + figures.relative_spread(scene.duration_s)),
        occupied_hz=band.feet_hz,
    )
