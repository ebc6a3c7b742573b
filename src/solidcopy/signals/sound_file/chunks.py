"""Walk the chunks of a RIFF or RF64 file by what is there, not by what the header hopes.

Recorders die, stream, forget pad bytes and wrap lengths at 4 GB. A reader that trusts the header
then returns nothing, or less, without a word.
Source: the RIFF layout and EBU Tech 3306 (RF64), both from memory.
"""

import io
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import BinaryIO

NO_LENGTH = 0xFFFFFFFF
"""In a RIFF file: the writer did not know; in RF64: look into the ds64 chunk."""
TAIL_BYTES = 65_536
"""So far from the end chunks are looked for that follow sound of unknown length."""
KNOWN_NAMES = frozenset(
    (
        b"fmt ", b"data", b"LIST", b"fact", b"bext", b"cue ", b"smpl", b"inst", b"PEAK", b"id3 ",
        b"ID3 ", b"iXML", b"axml", b"JUNK", b"junk", b"PAD ", b"FLLR", b"ds64", b"DISP", b"cart",
        b"umid", b"levl", b"plst", b"chna",
    )
)  # fmt: skip
"""Names in common use."""


class Length(Enum):
    """How the stated length of a chunk compares with the file's."""

    RIGHT = "right"
    UNKNOWN = "unknown"
    """The header gives none (0 or the largest number)."""
    CUT_SHORT = "cut short"
    TOO_SMALL = "too small"
    """More sound follows than the header says."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """One named piece of a file."""

    name: bytes
    starts_at: int
    """Of the first byte behind the eight of its head."""
    n_stated: int
    n_present: int
    """Bytes that belong to it by what is there."""
    length: Length = Length.RIGHT
    has_pad: bool = True
    """Whether an odd length is filled up to an even one, as it should be."""


def chunks_of(stream: BinaryIO) -> tuple[str, tuple[Chunk, ...]] | None:
    """Kind ("WAV" or "RF64") and chunks of a RIFF WAVE file; None for any other file."""
    stream.seek(0)
    head = stream.read(12)
    if len(head) < 12 or head[8:] != b"WAVE" or head[:4] not in (b"RIFF", b"RF64", b"BW64"):
        return None
    is_large = head[:4] != b"RIFF"
    return "RF64" if is_large else "WAV", tuple(_walk(stream, is_large=is_large))


def content_of(stream: BinaryIO, chunk: Chunk, *, at_most: int) -> bytes:
    """The first bytes of a chunk."""
    stream.seek(chunk.starts_at)
    return stream.read(min(at_most, chunk.n_present))


def stated_samples(stream: BinaryIO, chunks: Iterable[Chunk]) -> int | None:
    """Samples of each channel by the fact chunk, which compressed sound needs; None without."""
    fact = next((chunk for chunk in chunks if chunk.name == b"fact"), None)
    if fact is None or fact.n_present < 4:
        return None
    (n_samples,) = struct.unpack("<I", content_of(stream, fact, at_most=4))
    return n_samples or None


def _walk(stream: BinaryIO, *, is_large: bool) -> Iterator[Chunk]:
    n_file = stream.seek(0, io.SEEK_END)
    n_large_data = NO_LENGTH
    at = 12
    while at + 8 <= n_file:
        name, n_stated = _head(stream, at)
        if not _is_name(name):
            return
        if name == b"data":
            if is_large and n_stated == NO_LENGTH:
                n_stated = n_large_data
            n_present, length = _sound_length(stream, at + 8, n_stated)
        else:
            n_present = min(n_stated, n_file - at - 8)
            length = Length.RIGHT if n_present == n_stated else Length.CUT_SHORT
        end = at + 8 + n_present
        after = _next_start(stream, end) if n_present % 2 else end
        has_pad = n_present % 2 == 0 or after > end or end == n_file
        chunk = Chunk(name, at + 8, n_stated, n_present, length, has_pad)
        if name == b"ds64" and n_present >= 16:
            (n_large_data,) = struct.unpack("<Q", content_of(stream, chunk, at_most=16)[8:])
        yield chunk
        at = after


def _sound_length(stream: BinaryIO, start: int, n_stated: int) -> tuple[int, Length]:
    """Bytes of sound behind the head of a data chunk, and what to think of the stated number."""
    room = stream.seek(0, io.SEEK_END) - start
    if n_stated in (0, NO_LENGTH) and n_stated != room:
        if n_stated == 0 and (room == 0 or _is_chain(stream, start)):
            return 0, Length.RIGHT
        return room - _tail_bytes(stream, start), Length.UNKNOWN
    if n_stated > room:
        return room - _tail_bytes(stream, start), Length.CUT_SHORT
    end = start + n_stated
    is_plausible = (
        room - n_stated < 8
        or any(_is_chain(stream, place) for place in (end, end + n_stated % 2))
        or _is_tag(stream, end)
    )
    if is_plausible:
        return n_stated, Length.RIGHT
    return room - _tail_bytes(stream, end), Length.TOO_SMALL


def _tail_bytes(stream: BinaryIO, start: int) -> int:
    """Bytes of whole chunks at the very end of a file, behind sound of unknown length."""
    n_file = stream.seek(0, io.SEEK_END)
    first = max(start, n_file - TAIL_BYTES)
    stream.seek(first)
    tail = stream.read(n_file - first)
    places = (tail.find(name) for name in KNOWN_NAMES - {b"data", b"fmt "})
    fitting = [at for at in places if at >= 0 and _is_chain(stream, first + at, is_strict=True)]
    return len(tail) - min(fitting) if fitting else 0


def _next_start(stream: BinaryIO, end: int) -> int:
    """Where the next chunk begins behind an odd one: some writers forget the pad byte."""
    stream.seek(end)
    five = stream.read(5)
    without, padded = five[:4], five[1:]
    if without in KNOWN_NAMES:
        return end
    if padded in KNOWN_NAMES or five[:1] == b"\0":
        return end + 1
    return end if _is_name(without) else end + 1


def _head(stream: BinaryIO, at: int) -> tuple[bytes, int]:
    stream.seek(at)
    name, n_bytes = struct.unpack("<4sI", stream.read(8))
    return name, n_bytes


def _is_name(name: bytes) -> bool:
    return len(name) == 4 and all(32 <= letter < 127 for letter in name)


def _is_tag(stream: BinaryIO, at: int) -> bool:
    """Whether a song tag stands there, which some programs append outside of any chunk."""
    stream.seek(at)
    return stream.read(3) in (b"TAG", b"ID3")


def _is_chain(stream: BinaryIO, at: int, *, is_strict: bool = False) -> bool:
    """Whether chunks follow one another from here to the end of the file.

    One whose name is known needs no second witness, unless `is_strict`.
    """
    n_file = stream.seek(0, io.SEEK_END)
    while at + 8 <= n_file:
        name, n_bytes = _head(stream, at)
        if name in KNOWN_NAMES and not is_strict:
            return True
        if not _is_name(name):
            return False
        at += 8 + n_bytes + n_bytes % 2
    return at in (n_file, n_file + 1)
