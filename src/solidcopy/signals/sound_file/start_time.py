"""When a recording began, if a chunk of the file says so and it is plausible.

Sources: the `bext` chunk of EBU Tech 3285 (broadcast wave); for chunks of other makers the
eight 16-bit numbers in which a common operating system keeps a time of day (from memory, both).
"""

import re
import struct
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import BinaryIO

from solidcopy.signals.sound_file.chunks import Chunk, content_of

YEARS = range(1990, 2100)
ORIGINATION_AT = 256 + 32 + 32
"""Offset of date and time within `bext`, behind description, originator and its reference."""
SMALL_BYTES = 4096
"""Chunks of other makers are searched so far."""
STANDARD_NAMES = frozenset({b"fmt ", b"data", b"LIST", b"fact", b"JUNK", b"PAD ", b"ds64", b"PEAK"})


@dataclass(frozen=True, slots=True)
class StartTime:
    """When the first sample was taken, as the file says. No such chunk names a time zone."""

    moment: datetime
    """Without a zone: local time or UTC, as the recorder was set."""
    chunk: str
    """Name of the chunk that says so."""


def start_time(
    stream: BinaryIO, chunks: Iterable[Chunk], *, sample_rate_hz: int
) -> StartTime | None:
    """The first plausible start time, `bext` before other chunks."""
    ordered = sorted(chunks, key=lambda chunk: chunk.name != b"bext")
    for chunk in ordered:
        if chunk.name in STANDARD_NAMES:
            continue
        content = content_of(stream, chunk, at_most=SMALL_BYTES)
        moment = (
            _broadcast_time(content, sample_rate_hz)
            if chunk.name == b"bext"
            else _system_time(content)
        )
        if moment is not None:
            return StartTime(moment, chunk.name.decode("ascii").strip())
    return None


def _broadcast_time(content: bytes, sample_rate_hz: int) -> datetime | None:
    """Date, and the first sample's count since midnight; where that is 0, the time in words."""
    text = content[ORIGINATION_AT : ORIGINATION_AT + 18].decode("ascii", "replace")
    numbers = re.fullmatch(r"(\d{4}).(\d\d).(\d\d)(\d\d).(\d\d).(\d\d)", text)
    if numbers is None:
        return None
    moment = _plausible(*(int(number) for number in numbers.groups()))
    count = content[ORIGINATION_AT + 18 : ORIGINATION_AT + 26]
    if moment is None or len(count) < 8:
        return moment
    since_midnight_s = struct.unpack("<Q", count)[0] / sample_rate_hz
    if not 0.0 < since_midnight_s < 86_400.0:
        return moment
    midnight = moment.replace(hour=0, minute=0, second=0)
    return midnight + timedelta(seconds=since_midnight_s)


def _system_time(content: bytes) -> datetime | None:
    """Year, month, weekday, day, hour, minute, second, millisecond; the weekday must be right."""
    for at in range(0, len(content) - 15, 2):
        year, month, weekday, day, hour, minute, second, ms = struct.unpack_from("<8H", content, at)
        if year not in YEARS or ms > 999:
            continue
        moment = _plausible(year, month, day, hour, minute, second)
        if moment is not None and moment.isoweekday() % 7 == weekday:
            return moment + timedelta(milliseconds=ms)
    return None


def _plausible(*fields: int) -> datetime | None:
    if fields[0] not in YEARS:
        return None
    try:
        return datetime(*fields)  # type: ignore[arg-type]  # six whole numbers
    except ValueError:
        return None
