"""When a campaign has enough trials."""

from typing import Literal, Self

from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.level import STRICT


class StopRule(BaseModel):
    """When enough trials are made: a number for each point, an asked precision, or a decision."""

    model_config = STRICT

    trials_per_point: int | None = Field(
        None, ge=1, le=1_000_000, description="a fixed number at every axis value"
    )
    threshold_half_width_db: float | None = Field(
        None, gt=0, description="stop when every threshold is known this well (95 %)"
    )
    p: float = Field(0.5, gt=0, lt=1, description="which threshold the precision is asked of")
    until: Literal["decided"] | None = Field(
        None,
        description='"decided": stop when it is shown which of two receivers, or of two '
        "conditions, decodes more",
    )
    risk: float = Field(
        0.05, gt=0, lt=0.5, description="of deciding for a side that is not better, at any look"
    )
    at_most: int = Field(
        1000,
        ge=1,
        le=1_000_000,
        description="trials at a point, for precision or a decision; of a curve, where they are "
        "placed adaptively",
    )
    nothing_sent: int = Field(
        100,
        ge=0,
        le=1_000_000,
        description="trials per condition without a signal, to count false decodes",
    )

    @model_validator(mode="after")
    def _is_one_way(self) -> Self:
        ways = (self.trials_per_point, self.threshold_half_width_db, self.until)
        if sum(way is not None for way in ways) != 1:
            raise ValueError(
                "give one of `trials_per_point`, `threshold_half_width_db` and `until`"
            )
        return self

    @property
    def limit_per_point(self) -> int:
        """Largest number of trials at a point; of a curve, where they are placed adaptively."""
        return self.trials_per_point if self.trials_per_point is not None else self.at_most
