"""What comes out of a log: entries, and the confession of how they came about."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum


class Role(StrEnum):
    """What a column holds; the values are the words of `--columns`."""

    TIME = "time"
    DATE = "date"
    TEXT = "text"
    SNR = "snr"
    SNR_REFERENCE = "snr-reference"
    AUDIO = "audio"
    OFFSET = "offset"
    DIAL = "dial"
    DIRECTION = "direction"
    OTHER = "-"
    """Kept as it is, under its heading."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the file, as it stands there."""

    number: int
    """From 1."""
    raw: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One message that the log says was received."""

    line: Line
    utc: datetime
    """Aware, in UTC."""
    text: str
    snr_db: float | None = None
    snr_reference_hz: float | None = None
    """Never None beside an SNR: without it, the figure stays in `other`."""
    audio_hz: float | None = None
    time_offset_s: float | None = None
    dial_hz: float | None = None
    other: dict[str, str] = field(default_factory=dict)
    """Every other cell under its heading, unread."""

    def content(self) -> tuple[object, ...]:
        """Everything but the place: two entries with the same content are one."""
        values = (self.snr_db, self.audio_hz, self.time_offset_s, self.dial_hz)
        return self.utc, self.text, *values, *sorted(self.other.items())


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something that the file does not say."""

    sentence: str
    option: str | None = None
    """Which option would say it otherwise."""


@dataclass(frozen=True, slots=True)
class Dropped:
    """Lines that gave no entry, and why."""

    reason: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """The one thing that is worth asking."""

    sentence: str
    option: str
    """Name of the option that answers it, e.g. "--times-in"."""


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """What the user says about a log. All may be left out.

    Args:
        times_in: "UTC", a zone such as "Europe/Berlin", or a fixed offset such as "+01:00".
        dates: order of day, month and year where the file leaves it open.
        date: of the first line, ISO 8601, where the file has no date (or, its year, no year).
        snr_reference_hz: bandwidth that the SNR column refers to.
        columns: roles in order ("time,text,-"), or by heading or number ("text=3,snr=level").
        keep_last_line: even if the file ends in the middle of it.
    """

    times_in: str | None = None
    dates: str | None = None
    date: str | None = None
    snr_reference_hz: float | None = None
    columns: str | None = None
    keep_last_line: bool = False


@dataclass(frozen=True, slots=True)
class LogReading:
    """A log as far as it could be read."""

    entries: tuple[Entry, ...]
    """By time, then by line."""
    found: tuple[str, ...]
    assumptions: tuple[Assumption, ...]
    dropped: tuple[Dropped, ...]
    question: Question | None
    n_lines: int

    @property
    def n_dropped(self) -> int:
        """Lines that gave no entry, empty ones included."""
        return sum(len(group.lines) for group in self.dropped)
