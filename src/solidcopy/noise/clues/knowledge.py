"""The file of knowledge about kinds of source, read and checked."""

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from solidcopy.noise.parts.part import PartKind

STRICT = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class SourceKind(BaseModel):
    """One kind of source: never a person, a place or a make."""

    model_config = STRICT

    name: str = Field(min_length=3)
    likely: str = Field(min_length=3)
    """Completes "likely: ..."."""
    parts: tuple[PartKind, ...] = Field(min_length=1)
    """Kinds of part that it makes."""
    period_s: tuple[float, float] | None = None
    """Periods that fit; None: any, or none."""
    rhythm_hz: tuple[tuple[float, float], ...] = ()
    """Repetitions a second that fit, or spacings of lines; empty: any, or none."""
    confirm: tuple[str, ...] = Field(min_length=1)
    """What would confirm or rule it out, the easiest first."""
    cautions: tuple[str, ...]
    source: str = Field(min_length=3)

    @model_validator(mode="after")
    def _spans_rise(self) -> Self:
        spans = (*self.rhythm_hz, *([self.period_s] if self.period_s else []))
        if any(not 0.0 < low < high for low, high in spans):
            raise ValueError(f'"{self.name}": a span must rise from above 0')
        return self


class Caution(BaseModel):
    """A usual caution."""

    model_config = STRICT

    words: str = Field(min_length=3)
    source: str = Field(min_length=3)


class Knowledge(BaseModel):
    """All that is known of kinds of source."""

    model_config = STRICT

    kind: tuple[SourceKind, ...]
    caution: dict[str, Caution]

    @model_validator(mode="after")
    def _cautions_exist(self) -> Self:
        for kind in self.kind:
            unknown = set(kind.cautions) - set(self.caution)
            if unknown:
                raise ValueError(f'"{kind.name}" names no caution: {", ".join(sorted(unknown))}')
        return self


@lru_cache(maxsize=1)
def knowledge() -> Knowledge:
    """The knowledge that comes with the program."""
    text = (files(__package__) / "knowledge.toml").read_text(encoding="utf-8")
    return Knowledge.model_validate(tomllib.loads(text))
