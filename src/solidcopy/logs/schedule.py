"""What was played when: the key to a log, kept from whoever listens."""

from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, Self

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError, model_validator

from solidcopy.errors import LogError

NAMED_KEY = "key.json"
"""In the folder of slots that were not made blind."""
STRICT = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Slot(BaseModel):
    """One slot that was played."""

    model_config = STRICT

    slot: int = Field(ge=1, description="number, from 1")
    utc: AwareDatetime = Field(description="of its first sample")
    file: str = Field(description="sound file that holds it")
    starts_at_s: float = Field(ge=0, description="in that file")
    trial: str = Field(description='short name, e.g. "1@-19#0"')
    condition: str
    axis_value: float
    text: str | None = Field(description="null: nothing was sent")
    lowest_tone_hz: float
    start_after_nominal_s: float
    other_texts: tuple[str, ...] = Field((), description="what other stations sent beside it")
    digest_sha256_float32le: str = Field(description="of the samples before rounding to 16 bits")
    readings: list[Any] = Field(description="levels measured from them, as a journal keeps them")


class Key(BaseModel):
    """All slots with what was sent in them, and the plan behind them."""

    model_config = STRICT

    kind: Literal["solidcopy slot key"] = "solidcopy slot key"
    made_by: str
    caution: str
    mode: str
    slot_s: float = Field(gt=0)
    plan: dict[str, Any] = Field(description="of the campaign that the trials come from")
    slots: tuple[Slot, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _slots_differ(self) -> Self:
        starts = [slot.utc for slot in self.slots]
        if any(
            (later - earlier).total_seconds() < self.slot_s - 1e-3
            for earlier, later in pairwise(starts)
        ):
            raise ValueError("slots must follow one another and not overlap")
        return self

    @property
    def start(self) -> datetime:
        """UTC of the first slot."""
        return self.slots[0].utc


def read_key(path: Path) -> Key:
    """The key in a file, or in a folder of slots. Raises LogError, one sentence."""
    path = path / NAMED_KEY if path.is_dir() else path
    try:
        content = path.read_bytes()
    except OSError as error:
        raise LogError(f"{path}: cannot be read ({error.strerror}); give the key file") from None
    try:
        return Key.model_validate_json(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"]) or "the file"
        raise LogError(
            f"{path}: is no key that `solidcopy log slots` wrote ({where}: {first['msg']})"
        ) from None
