"""Settings of an outside program, as a plan file holds them."""

import re
from datetime import UTC, datetime
from typing import Annotated, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from solidcopy.receivers.program.command import OF_THE_SLOT, check_template
from solidcopy.receivers.program.layout import FIGURES, pattern_of_layout

STRICT = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

Column = Annotated[int, Field(ge=1, le=1000)] | Annotated[str, Field(min_length=1)]
"""A column by its number from 1, or by its name in the first line."""


class GivenAudio(BaseModel):
    """The sound file that the program is given (WAV)."""

    model_config = STRICT

    way: Literal["file", "stdin"] = Field(
        "file", description='"stdin": its standard input is the file; else see {audio_file}'
    )
    file_name: str = Field(
        "slot.wav", description="in the working folder; may hold placeholders of the slot"
    )
    sample_rate_hz: int | None = Field(
        None, ge=4_000, le=384_000, description="resampled to it; left out: as recorded"
    )
    word_length: Literal["16-bit", "24-bit", "32-bit", "float"] = Field(
        "16-bit", description="of a sample; float is 32-bit floating point"
    )
    channels: Literal[1, 2] = Field(1, description="2: both hold the same")

    @field_validator("file_name")
    @classmethod
    def _is_a_name(cls, name: str) -> str:
        return _plain_name(check_template(name, OF_THE_SLOT))


class LinesAnswer(BaseModel):
    """One decode per line, told by the line's layout or by a regular expression."""

    model_config = STRICT

    kind: Literal["lines"] = "lines"
    layout: str | None = Field(
        None,
        min_length=1,
        description="of a whole line, names in braces where it differs: {text}, {audio_hz}, "
        "{time_offset_s}, {snr_db}, {skip} for any other word",
    )
    pattern: str | None = Field(
        None,
        min_length=1,
        description="instead: a regular expression, searched in each line; named groups: text "
        "and, where reported, snr_db, audio_hz, time_offset_s",
    )

    @model_validator(mode="after")
    def _has_its_groups(self) -> Self:
        if (self.layout is None) == (self.pattern is None):
            raise ValueError("give one of `layout` and `pattern`")
        try:
            groups = set(re.compile(self.expression).groupindex)
        except re.error as error:
            raise ValueError(f"pattern: is not a regular expression ({error})") from None
        if unknown := sorted(groups - {"text", *FIGURES}):
            known = ", ".join(("text", *FIGURES))
            raise ValueError(f"pattern: unknown group {unknown[0]!r}; known are {known}")
        if "text" not in groups:
            raise ValueError("needs the message: {text} in a layout, (?P<text>.+) in a pattern")
        return self

    @property
    def expression(self) -> str:
        """The regular expression, either way. Raises ValueError for a faulty layout."""
        if self.layout is not None:
            return pattern_of_layout(self.layout)
        assert self.pattern is not None
        return self.pattern

    @property
    def figures(self) -> frozenset[str]:
        """Which figures are read."""
        return frozenset(re.compile(self.expression).groupindex) - {"text"}


class JsonLinesAnswer(BaseModel):
    """One decode per line, a JSON object; the fields hold its names."""

    model_config = STRICT

    kind: Literal["json-lines"] = "json-lines"
    text: str = Field("text", min_length=1, description="name of the message's text")
    snr_db: str | None = Field(None, description="name of the SNR")
    audio_hz: str | None = Field(None, description="name of the audio frequency")
    time_offset_s: str | None = Field(None, description="name of the time offset")

    @property
    def figures(self) -> frozenset[str]:
        """Which figures are read."""
        return frozenset(name for name in FIGURES if getattr(self, name) is not None)


class ColumnsAnswer(BaseModel):
    """One decode per line, in columns; the fields hold their numbers from 1, or their names."""

    model_config = STRICT

    kind: Literal["columns"] = "columns"
    delimiter: str = Field(
        ",", description='one letter, or "spaces": any number of them; quotes hold a field together'
    )
    text: Column = Field(description="column of the message; after spaces: from there to the end")
    snr_db: Column | None = Field(None, description="column of the SNR")
    audio_hz: Column | None = Field(None, description="column of the audio frequency")
    time_offset_s: Column | None = Field(None, description="column of the time offset")

    @property
    def figures(self) -> frozenset[str]:
        """Which figures are read."""
        return frozenset(name for name in FIGURES if getattr(self, name) is not None)

    @property
    def has_names(self) -> bool:
        """Whether the first line holds the names of the columns."""
        return any(isinstance(getattr(self, name), str) for name in ("text", *FIGURES))

    @model_validator(mode="after")
    def _is_one_way(self) -> Self:
        if len(self.delimiter) != 1 and self.delimiter != "spaces":
            raise ValueError('delimiter must be one letter or "spaces"')
        given = [getattr(self, name) for name in ("text", *FIGURES)]
        if self.has_names and any(isinstance(column, int) for column in given):
            raise ValueError("give all columns by number or all by name")
        if self.delimiter == "spaces" and not self.has_names:
            behind = [c for c in given[1:] if c is not None and c >= self.text]
            if behind:
                raise ValueError("after spaces the text goes to the end: no column may follow it")
        return self


AnyAnswer = Annotated[LinesAnswer | JsonLinesAnswer | ColumnsAnswer, Field(discriminator="kind")]


class Corrections(BaseModel):
    """From the program's figures to ours: ours = scale x theirs + offset."""

    model_config = STRICT

    snr_reference_hz: float | None = Field(
        None, gt=0, description="bandwidth that its SNR refers to; ours is 2500 Hz"
    )
    snr_db_offset: float = Field(0.0, description="added to its SNR, dB")
    audio_hz_scale: float = Field(1.0, gt=0, description="e.g. 1000 if it says kHz")
    audio_hz_offset: float = Field(
        0.0, description="added, Hz; ours is the frequency of the lowest tone"
    )
    time_offset_s_scale: float = Field(
        1.0, description="e.g. 0.001 if it says ms, -1 if it counts how early"
    )
    time_offset_s_offset: float = Field(
        0.0, description="added, s; ours counts from the mode's nominal start"
    )


class ProgramSettings(BaseModel):
    """An outside program, started anew for every slot (Linux; without memory limit: macOS)."""

    model_config = STRICT

    recipe: ClassVar[int] = 1
    """Raised whenever the same answer of a program would be read otherwise."""
    added_later: ClassVar[frozenset[str]] = frozenset()
    takes_many: ClassVar[bool] = False

    kind: Literal["program"] = "program"
    name: str = Field(min_length=1, max_length=80)
    command: tuple[str, ...] = Field(
        min_length=1,
        description="the program and its arguments, one by one; no shell reads them; names in "
        "braces are replaced, e.g. {audio_file}",
    )
    answer: AnyAnswer = Field(description="how its decodes are read")
    answer_file: str | None = Field(
        None,
        description="file in the working folder that they are read from; left out: what it prints",
    )
    audio: GivenAudio = Field(default_factory=GivenAudio, description="what it is given")
    corrections: Corrections = Field(
        default_factory=Corrections, description="of the figures that it reports"
    )
    environment: dict[str, str] = Field(
        default_factory=dict,
        description="variables added to a small clean environment; may hold names in braces",
    )
    working_folder: Literal["fresh", "kept"] = Field(
        "fresh",
        description='"kept" between the trials of a worker: outcomes then depend on order',
    )
    slot_time: datetime = Field(
        datetime(2026, 1, 1, tzinfo=UTC),
        description="start of the slot that it is told; in a kept folder of the first one",
    )
    time_limit_s: float = Field(30.0, gt=0, le=3600, description="a slower answer is a failure")
    memory_limit_mb: int = Field(
        2000, ge=1, le=1_000_000, description="of all its processes together (Linux)"
    )
    output_limit_bytes: int = Field(
        1_000_000, ge=100, le=50_000_000, description="of all that it prints, and its answer file"
    )
    ok_exit_codes: tuple[Annotated[int, Field(ge=0, le=255)], ...] = Field(
        (0,), min_length=1, description="any other is a failure"
    )
    at_most_at_once: int | None = Field(
        None, ge=1, le=1000, description="copies on this machine; left out: one for each worker"
    )
    program_file: str | None = Field(
        None, description="the file that `program_sha256` is of; left out: the program itself"
    )
    program_sha256: str | None = Field(
        None,
        pattern=r"^[0-9a-f]{64}$",
        description="of the program's file: another file is refused",
    )
    version: str = Field(
        "1", description="change it when the program changes: old trials no longer count"
    )

    @field_validator("command", "program_file")
    @classmethod
    def _has_known_names(cls, value: tuple[str, ...] | str | None) -> tuple[str, ...] | str | None:
        for part in (value,) if isinstance(value, str) else value or ():
            check_template(part)
            if "\0" in part:
                raise ValueError("an argument cannot hold a NUL")
        return value

    @field_validator("answer_file")
    @classmethod
    def _is_a_name(cls, name: str | None) -> str | None:
        return None if name is None else _plain_name(check_template(name, OF_THE_SLOT))

    @field_validator("environment")
    @classmethod
    def _has_known_names_too(cls, variables: dict[str, str]) -> dict[str, str]:
        for name, value in variables.items():
            if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", name) or "\0" in value:
                raise ValueError(f"{name!r} is no name of a variable, or its value holds a NUL")
            check_template(value)
        return variables

    @field_validator("slot_time")
    @classmethod
    def _has_a_zone(cls, time: datetime) -> datetime:
        if time.tzinfo is None:
            raise ValueError("needs its zone: end it with Z for UTC")
        return time.astimezone(UTC)

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        if "snr_db" in self.answer.figures and self.corrections.snr_reference_hz is None:
            raise ValueError(
                "an SNR means nothing without its bandwidth: set corrections.snr_reference_hz to "
                "the one that the program's SNR refers to (e.g. 2500), or do not read snr_db"
            )
        told = (*self.command, *self.environment.values())
        if self.answer_file is None and any("{answer_file}" in part for part in told):
            raise ValueError("{answer_file} needs a name: set answer_file")
        return self


def _plain_name(name: str) -> str:
    if not name or "/" in name or "\\" in name or name.startswith(".") or "\0" in name:
        raise ValueError(f"{name!r} must be the plain name of a file, without a folder")
    return name
