"""Fading: the wanted signal arrives over several paths, whose strengths and phases wander."""

from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.impairments.added.limits import refuse_outside
from solidcopy.impairments.impairment import Arrival, Transmission
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.impairments.path.multipath import Tap, arrive
from solidcopy.impairments.published.fading_conditions import fading_conditions

LIMITS = {
    "delay_ms": (0.0, 100.0),
    "spread_hz": (0.001, 100.0),
    "shift_hz": (-500.0, 500.0),
    "power_db": (-60.0, 60.0),
    "second_power_db": (-60.0, 60.0),
    "rice_factor_db": (-60.0, 60.0),
}
"""Lowest and highest numbers."""

TrialsTogether = Annotated[int, Field(ge=1, le=1000)]
TOGETHER = "trials in a row that meet one continuous run of fading, as on the air"


def _refuse_numbers(model: BaseModel) -> None:
    for field, (low, high) in LIMITS.items():
        refuse_outside(getattr(model, field, None), field=field, low=low, high=high)


def _steady_share(rice_factor_db: float | str | None) -> float:
    if rice_factor_db is None:
        return 0.0
    return 1.0 / (1.0 + units.ratio_from_db(-fixed(rice_factor_db, "rice_factor_db")))


class TwoPathFading(BaseModel):
    """Two paths, each fading by itself: a published condition, or free numbers."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["two-path-fading"] = "two-path-fading"
    preset: str | None = Field(
        None,
        description='a condition of ITU-R F.1487, e.g. "mid-latitude disturbed"; it stands for '
        "delay_ms and spread_hz, and for paths of equal power",
        json_schema_extra={"examples": list(fading_conditions())},
    )
    delay_ms: Swept | None = Field(
        None, description="of the second path behind the first, 0 to 100 ms"
    )
    spread_hz: Swept | None = Field(
        None, description="two standard deviations of each path's power spectrum, 0.001 to 100 Hz"
    )
    shift_hz: Swept | None = Field(
        None, description="of the second path against the first, -500 to 500 Hz; left out: none"
    )
    second_power_db: Swept | None = Field(
        None, description="second path over the first, -60 to 60 dB; left out: equal"
    )
    rice_factor_db: Swept | None = Field(
        None,
        description="steady part of each path over its fading part, -60 to 60 dB; left out: none",
    )
    trials_together: TrialsTogether = Field(1, description=TOGETHER)

    @model_validator(mode="after")
    def _is_one_way(self) -> Self:
        own = {
            name: value
            for name, value in self
            if name not in ("kind", "preset", "trials_together") and value is not None
        }
        if self.preset is None:
            if "delay_ms" not in own or "spread_hz" not in own:
                raise ValueError("give a preset, or both delay_ms and spread_hz")
        elif self.preset not in fading_conditions():
            listed = ", ".join(f'"{name}"' for name in fading_conditions())
            raise ValueError(f'"{self.preset}" is no preset; there are {listed}')
        elif own:
            raise ValueError(f"a preset fixes all numbers: leave out {', '.join(own)}")
        _refuse_numbers(self)
        return self

    @property
    def n_together(self) -> int:
        """As asked."""
        return self.trials_together

    def taps(self) -> tuple[Tap, ...]:
        """Both paths, every number fixed."""
        numbers = self._numbers()
        spread_hz = fixed(numbers["spread_hz"], "spread_hz")
        steady_share = _steady_share(numbers["rice_factor_db"])
        return (
            Tap(0.0, spread_hz, steady_share=steady_share),
            Tap(
                fixed(numbers["delay_ms"], "delay_ms") / 1e3,
                spread_hz,
                fixed(numbers["shift_hz"] or 0.0, "shift_hz"),
                units.ratio_from_db(fixed(numbers["second_power_db"] or 0.0, "second_power_db")),
                steady_share,
            ),
        )

    def propagate(self, sent: Transmission, generator: np.random.Generator) -> Arrival:
        """The sum of both paths."""
        return arrive(sent, self.taps(), generator)

    def identity(self) -> dict[str, Any]:
        """Numbers, those behind a preset's name included, and recipe."""
        return {**self._numbers(), "kind": self.kind, "recipe": self.recipe}

    def _numbers(self) -> dict[str, Any]:
        """All numbers, the preset replaced by what it stands for."""
        numbers = self.model_dump(mode="json", exclude={"kind", "preset"})
        if self.preset is not None:
            condition = fading_conditions()[self.preset]
            numbers |= {"delay_ms": condition.delay_ms, "spread_hz": condition.spread_hz}
        return numbers


class FadingPath(BaseModel):
    """One of several paths."""

    model_config = STRICT

    delay_ms: float = Field(0.0, ge=0.0, le=100.0, description="of this path, ms")
    spread_hz: float = Field(
        ge=0.001, le=100.0, description="two standard deviations of its power spectrum, Hz"
    )
    shift_hz: float = Field(0.0, ge=-500.0, le=500.0, description="mean shift of frequency, Hz")
    power_db: float = Field(
        0.0, ge=-60.0, le=60.0, description="mean power beside the other paths, dB"
    )
    rice_factor_db: float | None = Field(
        None,
        ge=-60.0,
        le=60.0,
        description="its steady part over its fading part, dB; left out: no steady part",
    )

    def tap(self) -> Tap:
        """The path as numbers of the process."""
        return Tap(
            self.delay_ms / 1e3,
            self.spread_hz,
            self.shift_hz,
            units.ratio_from_db(self.power_db),
            _steady_share(self.rice_factor_db),
        )


class MultiPathFading(BaseModel):
    """Any number of paths, each with numbers of its own. The mean gain of all is 0 dB."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["multi-path-fading"] = "multi-path-fading"
    paths: tuple[FadingPath, ...] = Field(
        min_length=1, max_length=12, description="each fades by itself"
    )
    trials_together: TrialsTogether = Field(1, description=TOGETHER)

    @property
    def n_together(self) -> int:
        """As asked."""
        return self.trials_together

    def taps(self) -> tuple[Tap, ...]:
        """All paths."""
        return tuple(path.tap() for path in self.paths)

    def propagate(self, sent: Transmission, generator: np.random.Generator) -> Arrival:
        """The sum of all paths."""
        return arrive(sent, self.taps(), generator)

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
