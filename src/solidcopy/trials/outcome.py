"""The score of one trial."""

from dataclasses import dataclass
from enum import StrEnum

from solidcopy.receivers.receiver import Decode
from solidcopy.trials.trial import Readings


class Verdict(StrEnum):
    """What became of one trial. A crash is not a miss."""

    DECODED = "decoded"
    MISSED = "missed"
    FAILED = "failed"
    NOTHING_SENT = "nothing sent"


@dataclass(frozen=True, slots=True)
class Outcome:
    """Score of one trial by one receiver."""

    verdict: Verdict
    right: Decode | None
    """The decode that matches what was sent."""
    false: tuple[Decode, ...]
    """Every decode that was not sent."""
    elapsed_s: float
    digest: str
    """Of the recording's samples."""
    readings: Readings | None
    """None if the recording could not be made in this run."""
    failure: str | None = None
    cpu_s: float | None = None
    """Processor time of the receiver; None where it was not measured."""
