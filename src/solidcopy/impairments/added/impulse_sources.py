"""Impulses of one or several named sources at once: a fence, engines, motors, arcs.

One level states them all together; how strong each is among them is relative.
"""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.impairments.added.impulse_source_kinds import AnyImpulseSource
from solidcopy.impairments.added.impulses import PASSBAND_SKIRT_HZ
from solidcopy.impairments.area import Areas
from solidcopy.impairments.impairment import Disturbance, Draw, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, one_level, refuse_not_one
from solidcopy.signals import filters, power

MOST_ALWAYS = 0.2
"""Share of the power that may lie outside the outlines: what is there all the time."""


class ImpulseSources(BaseModel):
    """Trains of impulses of named sources that come through a receiver's passband."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["impulse-sources"] = "impulse-sources"
    sources: tuple[AnyImpulseSource, ...] = Field(
        min_length=1,
        max_length=8,
        description="electric-fence, ignition, motor or mains-arc, each with its own numbers",
    )
    low_hz: float = Field(
        200.0, ge=PASSBAND_SKIRT_HZ, le=20_000, description="lower edge of the passband, Hz"
    )
    high_hz: float = Field(
        2900.0, le=24_000, description="upper edge (6 dB down; 60 dB down 100 Hz beyond), Hz"
    )
    signal_to_interference_db: Swept | None = Field(
        None, description="wanted power over the expected mean power of all sources, dB"
    )
    interference_to_noise_db: Swept | None = Field(
        None, description="their expected mean power over the noise power in 2500 Hz, dB"
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
        return self

    def level(self) -> Level:
        """The asked ratio, of the expected mean power of all sources together."""
        return one_level(self.signal_to_interference_db, self.interference_to_noise_db)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """The sum of all sources, each with a stream of draws of its own."""
        band = filters.fitting_band(
            self.low_hz,
            self.high_hz,
            skirt_hz=PASSBAND_SKIRT_HZ,
            sample_rate_hz=scene.sample_rate_hz,
        )
        ratios = [units.ratio_from_db(source.relative_db) for source in self.sources]
        made = [
            source.synthesise(band, scene, stream)
            for source, stream in zip(self.sources, generator.spawn(len(self.sources)), strict=True)
        ]
        if len(made) == 1:
            return made[0]
        return sum_of(made, [ratio / sum(ratios) for ratio in ratios])

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def _areas_of(parts: list[Disturbance], shares: list[float]) -> Areas | None:
    """Of those parts that have their times; of none if the others hold more than a little."""
    always = sum(share for part, share in zip(parts, shares, strict=True) if part.areas is None)
    if always > MOST_ALWAYS:
        return None
    return tuple(area for part in parts for area in part.areas or ())


def sum_of(parts: list[Disturbance], shares: list[float]) -> Disturbance:
    """Independent disturbances in one, of expected mean power 1.

    Args:
        parts: all of the same band; their samples are overwritten.
        shares: of the expected power, adding up to 1.
    Source: derived here: powers add, and so do their variances; what the parts' products add by
        chance is known from the samples, as the overlaps of one train are.
    """
    total = np.zeros(parts[0].samples.size)
    alone = ratio = spread = residual = 0.0
    for part, share in zip(parts, shares, strict=True):
        part.samples[:] *= math.sqrt(share / part.reference_power)
        total += part.samples
        alone += power.mean_power(part.samples)
        drawn = share * part.drawn.power_ratio
        ratio += drawn
        spread += (share * (units.ratio_from_db(part.spread_db) - 1.0)) ** 2
        residual += (drawn * (units.ratio_from_db(part.drawn.residual_spread_db) - 1.0)) ** 2
    overlap = power.mean_power(total) / alone if alone > 0.0 else 1.0
    left = math.sqrt(residual) / ratio if ratio > 0.0 else 0.0
    return Disturbance(
        samples=total,
        reference_power=1.0,
        spread_db=units.db_from_ratio(1.0 + math.sqrt(spread)),
        occupied_hz=parts[0].occupied_hz,
        draw=Draw(ratio * overlap, units.db_from_ratio(1.0 + left)),
        areas=_areas_of(parts, shares),
    )
