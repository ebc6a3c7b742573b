"""A receiver that listens live to a sound device, at its own pace."""

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field


class StationSettings(BaseModel):
    """A station's own software that listens to a sound device; `solidcopy play` plays to it."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    recipe: ClassVar[int] = 1
    added_later: ClassVar[frozenset[str]] = frozenset()
    takes_many: ClassVar[bool] = False

    kind: Literal["station"] = "station"
    name: str = Field("station", min_length=1, max_length=80)
    listener: str = Field(
        min_length=1,
        max_length=200,
        description="what listens, its version and the settings that matter, in your own words: "
        "another text counts as another receiver",
    )
    late_s: float = Field(
        0.0, ge=-60, le=60, description="by which it stamps its lines behind the start of a slot, s"
    )
    wait_s: float = Field(
        10.0,
        ge=0,
        le=600,
        description="how long after the end of a slot its lines still count for that slot, s",
    )
    frequency_tolerance_hz: float = Field(
        25.0, gt=0, description="between a line's audio frequency and the lowest tone, Hz"
    )
