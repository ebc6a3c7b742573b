"""Settings of the built-in receiver, as a plan file holds them."""

from typing import ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

Effort = Literal["belief-propagation", "ordered-statistics", "phase-trellis"]
"""Iterative decoding only; where that fails, a list of likely words as well; where that fails too,
following the carrier's phase from symbol to symbol."""

Arithmetic = Literal["compiled", "accelerator"]
"""Loops compiled for this machine's processor; or array operations on a graphics processor, for
many slots at once, with an optional package."""


class BuiltinSettings(BaseModel):
    """Our own full-band receiver."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    recipe: ClassVar[int] = 4
    """Raised whenever decodes from the same audio change."""
    added_later: ClassVar[frozenset[str]] = frozenset({"arithmetic"})
    """Fields that have no part in the identity while at their default: it is older than they."""

    kind: Literal["builtin"] = "builtin"
    name: str = Field("builtin", min_length=1, max_length=80)
    effort: Effort = Field(
        "ordered-statistics", description="how hard it tries; each level includes the one before"
    )
    passes: int = Field(
        4,
        ge=1,
        le=6,
        description="most searches of a slot; after each, what was decoded is subtracted, and a "
        "search that finds nothing new is the last",
    )
    arithmetic: Arithmetic = Field(
        "compiled",
        description="what the array work is done with: loops compiled for the processor, or an "
        "NVIDIA graphics processor, which needs the extra solidcopy[accelerator]; outcomes differ "
        "by rounding",
    )
    low_hz: float = Field(200.0, ge=0, le=5000, description="lowest lowest-tone searched")
    high_hz: float = Field(2900.0, ge=50, le=5900, description="highest lowest-tone searched")

    @property
    def takes_many(self) -> bool:
        """Whether many recordings at once are quicker than one by one."""
        return self.arithmetic == "accelerator"

    @model_validator(mode="after")
    def _check_order(self) -> Self:
        if self.high_hz < self.low_hz + 10.0:
            raise ValueError(
                f"high_hz ({self.high_hz:g}) must be at least 10 Hz above low_hz ({self.low_hz:g})"
            )
        return self
