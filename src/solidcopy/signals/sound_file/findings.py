"""What was found about a sound file, one sentence each, and how much it weighs."""

from dataclasses import dataclass
from enum import IntEnum


class Weight(IntEnum):
    """What a finding leaves a file good for; the heaviest decides."""

    REMARK = 0
    """Worth knowing; levels and times are right."""
    SOURCES_ONLY = 1
    """Levels or times are not what was heard; what made the noise can still be looked for."""
    UNFIT = 2
    """There is nothing to work with."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was found."""

    kind: str
    """A word for programs, e.g. "cut-short" (docs/howto/inspect-a-recording.md lists them)."""
    sentence: str
    weight: Weight = Weight.REMARK
    places_s: tuple[float, ...] = ()
    """Where it happened, seconds from the start; the first ones if there are many."""
    brief: str = ""
    """For the first line of a report, e.g. "3 gaps"; empty for what need not stand there."""


def grouped(number: int) -> str:
    """A whole number with its thousands parted by blanks, e.g. "48 000"."""
    return f"{number:,}".replace(",", " ")


def lasting(duration_s: float) -> str:
    """A length of time for a person, e.g. "7.25 s", "1 min 02.5 s" or "3 h 00 min 00.0 s"."""
    if duration_s < 60.0:
        return f"{duration_s:.2f} s"
    tenths = round(duration_s * 10.0)
    minutes, seconds = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    rest = (
        f"{minutes:02d} min {seconds / 10.0:04.1f} s"
        if hours
        else (f"{minutes} min {seconds / 10.0:04.1f} s")
    )
    return f"{hours} h {rest}" if hours else rest
