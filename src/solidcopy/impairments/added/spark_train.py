"""Sparks of unlike strength through a passband: clicks whose times and powers a source draws."""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.impairments.added.pulse import Click, pulse_table
from solidcopy.impairments.added.pulse_train import (
    PlacedPulses,
    draw_of,
    draw_turns,
    pulse_areas,
)
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.kernels.pulses import place_pulses
from solidcopy.signals import filters

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Sparks:
    """Sparks as a source drew them."""

    starts_s: Array
    """(n_sparks,) in any order."""
    powers: Array
    """(n_sparks,) of expected mean 1."""
    share_on: float = 1.0
    """Share of the time during which the source is at work."""


class SparkLaw(Protocol):
    """When sparks come and how strong they are."""

    @property
    def sparks_per_s(self) -> float:
        """Expected number a second."""

    def draw_sparks(self, generator: np.random.Generator, *, from_s: float, to_s: float) -> Sparks:
        """All sparks between two times."""

    def relative_spread(self, duration_s: float) -> float:
        """Standard deviation of the sum of their powers over a time, over the expected sum."""

    def crowding(self, duration_s: float) -> float:
        """Mean square of their rate over its squared mean: 1 if they come evenly."""


def draw_powers(n_sparks: int, spread_db: float, generator: np.random.Generator) -> Array:
    """Powers whose dB values are normally distributed, (n_sparks,), of expected mean 1."""
    if spread_db == 0.0:
        return np.ones(n_sparks)
    sigma = math.log(units.ratio_from_db(spread_db))
    powers: Array = np.exp(sigma * generator.standard_normal(n_sparks) - sigma**2 / 2.0)
    return powers


def mean_square_power(spread_db: float) -> float:
    """Expected square of such a power (log-normal law, textbook): exp(sigma²)."""
    return math.exp(math.log(units.ratio_from_db(spread_db)) ** 2)


def sparks_through(
    law: SparkLaw, band: filters.Band, scene: Scene, generator: np.random.Generator
) -> Disturbance:
    """The sparks of one source over a slot, each with a carrier phase of its own.

    Those that come before the slot but ring into it are included.
    """
    table = pulse_table(Click(), band, scene.sample_rate_hz)
    rate_hz = scene.sample_rate_hz
    sparks = law.draw_sparks(generator, from_s=-table.n_length / rate_hz, to_s=scene.duration_s)
    starts = sparks.starts_s * rate_hz
    turns = np.sqrt(sparks.powers) * draw_turns("random", starts.size, generator)
    samples = np.zeros(scene.n_samples)
    energies = place_pulses(samples, table.in_phase, table.quadrature, starts, turns)
    placed = PlacedPulses(
        samples=samples,
        starts=starts,
        powers=sparks.powers,
        energies=energies,
        is_turned=True,
        n_expected=law.sparks_per_s * scene.duration_s,
    )
    # Chance overlaps fluctuate as noise of the same spectrum does, in the time that is used.
    used = table.effective_bandwidth_hz * scene.duration_s / law.crowding(scene.duration_s)
    spread = math.hypot(law.relative_spread(scene.duration_s), 1.0 / math.sqrt(used))
    return Disturbance(
        samples=samples,
        reference_power=law.sparks_per_s * table.turned_energy / rate_hz,
        spread_db=units.db_from_ratio(1.0 + spread),
        occupied_hz=band.feet_hz,
        share_on=sparks.share_on,
        draw=draw_of(table, placed),
        areas=pulse_areas(table, placed, band, scene),
    )
