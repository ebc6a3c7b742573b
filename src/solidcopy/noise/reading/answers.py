"""What the user says about a file, and what is asked."""

from dataclasses import dataclass
from enum import StrEnum

from solidcopy.errors import AudioFileError

SUM = "sum"


class Side(StrEnum):
    """Which side of the centre frequency of an I/Q recording becomes audio."""

    UPPER = "upper"
    LOWER = "lower"


@dataclass(frozen=True, slots=True)
class Question:
    """The one thing that is worth asking."""

    sentence: str
    option: str
    """Name of the option that answers it, e.g. "--channel"."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What the user says about a file. All may be left out.

    Args:
        channel: "left", "right", a number from 1, or "sum" (the mean of all channels).
        iq: the two channels are I and Q; take this side of the centre frequency.
        join: take all pieces of sound in the file, one behind the other.
    """

    channel: str | None = None
    iq: Side | None = None
    join: bool = False

    def __post_init__(self) -> None:
        if self.channel is not None and self.iq is not None:
            raise AudioFileError(
                "--channel and --iq exclude each other: I and Q belong together; give one"
            )


def channel_index(channel: str, n_channels: int) -> int | None:
    """The channel meant, from 0; None for the sum. Raises AudioFileError."""
    if channel == SUM:
        return None
    named = {"left": 1, "right": 2}.get(channel)
    number = named or (int(channel) if channel.isascii() and channel.isdigit() else 0)
    if not 1 <= number <= n_channels:
        allowed = "1" if n_channels == 1 else f"1 to {n_channels}"
        words = ", left, right or sum" if n_channels == 2 else " or sum"
        raise AudioFileError(f'there is no channel "{channel}"; give {allowed}{words}')
    return number - 1
