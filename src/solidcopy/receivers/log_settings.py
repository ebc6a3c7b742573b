"""A receiver that is known only by the log that it wrote."""

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field


class LogSettings(BaseModel):
    """A station's own software, scored by its log. Its outcomes are imported; it cannot be run."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    recipe: ClassVar[int] = 1
    added_later: ClassVar[frozenset[str]] = frozenset()
    takes_many: ClassVar[bool] = False

    kind: Literal["log"] = "log"
    name: str = Field(min_length=1, max_length=80)
    log_sha256: str = Field(
        pattern="^[0-9a-f]{64}$", description="of the log's bytes: another log, other outcomes"
    )
    time_tolerance_s: float = Field(gt=0, description="between an entry and its slot's start")
    frequency_tolerance_hz: float = Field(gt=0, description="between an entry and the lowest tone")
    late_s: float = Field(0.0, description="by which the log stamps its lines behind slot starts")
    read_as: str = Field("", description="what the user said about the log, as options")
