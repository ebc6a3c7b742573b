"""An open output stream, as the player sees it: a sound card, or one that tests have made up."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from solidcopy.soundcard.feed import Frames

Fill = Callable[[Frames, int], None]
"""Fills a block, given its first frame."""
Note = Callable[[int, float], None]
"""Told for each block: its first frame, and when that is heard, by the steady clock."""


class Trouble(StrEnum):
    """What can happen to a stream."""

    GAP = "the sound card ran dry"
    ENDED = "the sound card is gone"


@dataclass(frozen=True, slots=True)
class StreamTrouble:
    """Something happened to a stream."""

    kind: Trouble
    frame: int
    """At which it was noticed."""


class Output(Protocol):
    """One channel of sound out of this machine."""

    @property
    def rate_hz(self) -> int:
        """Nominal sample rate."""

    def open(self, fill: Fill, note: Note) -> None:
        """Begin the stream at frame 0. Raises DeviceError if the device cannot be had."""

    def troubles(self) -> list[StreamTrouble]:
        """What happened since the last call."""

    def close(self) -> None:
        """End the stream. Safe to call twice."""
