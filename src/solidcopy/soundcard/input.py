"""An open input stream, as the recorder sees it: a sound card, or one that tests have made up."""

from collections.abc import Callable
from typing import Protocol

from solidcopy.soundcard.feed import Frames
from solidcopy.soundcard.output import StreamTrouble

Take = Callable[[Frames, int, float], None]
"""Handed each block: its frames (to be copied), its first frame's number, and when that entered
the card, by the steady clock."""


class Input(Protocol):
    """One channel of sound into this machine."""

    @property
    def rate_hz(self) -> int:
        """Nominal sample rate."""

    def open(self, take: Take) -> None:
        """Begin the stream at frame 0. Raises DeviceError if the device cannot be had."""

    def troubles(self) -> list[StreamTrouble]:
        """What happened since the last call."""

    def close(self) -> None:
        """End the stream. Safe to call twice."""
