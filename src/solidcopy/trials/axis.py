"""Values that a field runs over: along a campaign's axis, or over its map."""

import math
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, Field, model_validator

from solidcopy.impairments.level import STRICT

MAX_AXIS_VALUES = 500
MAX_MAP_VALUES = 200
FEWEST_PLACES = 5
"""Values of an axis on which trials are placed adaptively."""


class Axis(BaseModel):
    """Values of a field that says "axis" or "map": a list, or even steps between two ends."""

    model_config = STRICT

    values: tuple[float, ...] | None = Field(
        None, min_length=1, max_length=MAX_AXIS_VALUES, description="all values, in any order"
    )
    start: float | None = Field(None, description="first value")
    stop: float | None = Field(None, description="last value, included")
    step: float | None = Field(None, gt=0, description="distance of neighbouring values")
    placement: Literal["even", "adaptive"] = Field(
        "even",
        description='"even": as many trials at each value; "adaptive": each round of trials goes '
        "to the values that tell most about the threshold",
    )

    @model_validator(mode="after")
    def _is_one_way(self) -> Self:
        steps = (self.start, self.stop, self.step)
        if self.values is not None and steps != (None, None, None):
            raise ValueError("give either `values` or `start`, `stop` and `step`, not both")
        if self.values is None and None in steps:
            raise ValueError("give `values`, or all three of `start`, `stop` and `step`")
        if self.values is not None and len(set(self.values)) != len(self.values):
            raise ValueError("`values` holds the same number twice")
        if self.start is not None and self.stop is not None and self.start > self.stop:
            raise ValueError(f"`start` ({self.start:g}) must not exceed `stop` ({self.stop:g})")
        if self._n_steps() >= MAX_AXIS_VALUES:
            raise ValueError(f"more than {MAX_AXIS_VALUES} values; take a larger `step`")
        if self.placement == "adaptive" and len(self.points()) < FEWEST_PLACES:
            raise ValueError(
                f'placement = "adaptive" needs {FEWEST_PLACES} values or more to choose from; take '
                "a smaller `step`"
            )
        return self

    def points(self) -> tuple[float, ...]:
        """All values, ascending."""
        if self.values is not None:
            return tuple(sorted(self.values))
        assert self.start is not None and self.step is not None
        n_steps = math.floor(self._n_steps())
        return tuple(round(self.start + i * self.step, 9) for i in range(n_steps + 1))

    def _n_steps(self) -> float:
        """From the first value to the last; 0 for a list, infinite where no number holds it."""
        if self.start is None or self.stop is None or self.step is None:
            return 0.0
        return (self.stop - self.start) / self.step + 1e-9


def _is_small(values: Axis) -> Axis:
    """A map has a whole curve at each of its values."""
    if values.placement != "even":
        raise ValueError("the values of a map are not placed: leave `placement` to the axis")
    if len(values.points()) > MAX_MAP_VALUES:
        raise ValueError(f"more than {MAX_MAP_VALUES} values; take a larger `step`")
    return values


MapAxis = Annotated[Axis, AfterValidator(_is_small)]
"""Values of a map, in the same form as an axis."""
