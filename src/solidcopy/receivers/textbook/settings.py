"""Settings of the textbook receivers, as a plan file holds them."""

from typing import ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator


class TextbookSettings(BaseModel):
    """Plain receivers after the textbook for Morse, RTTY and PSK31."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    recipe: ClassVar[int] = 1
    """Raised whenever decodes from the same audio change."""
    added_later: ClassVar[frozenset[str]] = frozenset()
    takes_many: ClassVar[bool] = False

    kind: Literal["textbook"] = "textbook"
    name: str = Field("textbook", min_length=1, max_length=80)
    low_hz: float = Field(200.0, ge=100, le=5000, description="lowest lowest-tone searched")
    high_hz: float = Field(2700.0, ge=150, le=5500, description="highest lowest-tone searched")

    @model_validator(mode="after")
    def _check_order(self) -> Self:
        if self.high_hz < self.low_hz + 10.0:
            raise ValueError(
                f"high_hz ({self.high_hz:g}) must be at least 10 Hz above low_hz ({self.low_hz:g})"
            )
        return self
