"""A text inside a WAV file: the standard comment chunk, behind the sound, which stays untouched.

Source: Multimedia Programming Interface and Data Specifications 1.0 (RIFF: chunk = name, length,
bytes, a pad byte if odd; LIST chunk of type INFO with ICMT comment, ISFT software, texts ending in
a zero byte), from memory; checked against libsndfile and the standard library's reader
(tests/reference/test_riff_comment.py).
"""

import io
import os
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from solidcopy.errors import AudioFileError

MAX_COMMENT_BYTES = 64 << 20
"""A longer text is not read: it is none of ours."""
MAX_RIFF_BYTES = 0xFFFFFFFF
"""What the length field can say."""


def append_comment(path: Path, text: str, *, software: str) -> None:
    """Add a LIST/INFO chunk to a WAV file, in place: give it a copy, or a file not yet in place.

    Args:
        path: a RIFF WAVE file with whole chunks.
        text: ASCII, without zero bytes.
        software: what made the file.
    Raises: AudioFileError if it is no such file, or would grow too long for one.
    """
    body = b"INFO" + _text_chunk(b"ICMT", text) + _text_chunk(b"ISFT", software)
    chunk = struct.pack("<4sI", b"LIST", len(body)) + body
    with path.open("r+b") as stream:
        if not _is_wave(stream):
            raise AudioFileError(f"{path}: is no WAV file, so it cannot carry a comment")
        end = stream.seek(0, io.SEEK_END)
        padded = b"\0" * (end % 2) + chunk
        if end + len(padded) - 8 > MAX_RIFF_BYTES:
            raise AudioFileError(f"{path}: is too long for a WAV file with a comment (4 GiB)")
        stream.write(padded)
        stream.seek(4)
        stream.write(struct.pack("<I", end + len(padded) - 8))
        stream.flush()
        os.fsync(stream.fileno())


def read_comments(path: Path) -> list[str]:
    """Texts of all comment chunks of a WAV file; none for any other file. Raises AudioFileError."""
    try:
        with path.open("rb") as stream:
            if not _is_wave(stream):
                return []
            texts = []
            for name, at, n_bytes in list(_chunks(stream, 12, stream.seek(0, io.SEEK_END))):
                stream.seek(at)
                if name == b"LIST" and stream.read(4) == b"INFO":
                    for inner, inner_at, n_inner in list(_chunks(stream, at + 4, at + n_bytes)):
                        if inner == b"ICMT" and n_inner <= MAX_COMMENT_BYTES:
                            stream.seek(inner_at)
                            raw = stream.read(n_inner).split(b"\0", 1)[0]
                            texts.append(raw.decode("utf-8", "replace"))
            return texts
    except OSError as error:
        raise AudioFileError(f"{path}: cannot be read ({error.strerror})") from None


def _text_chunk(name: bytes, text: str) -> bytes:
    raw = text.encode("ascii") + b"\0"
    return struct.pack("<4sI", name, len(raw)) + raw + b"\0" * (len(raw) % 2)


def _is_wave(stream: BinaryIO) -> bool:
    stream.seek(0)
    head = stream.read(12)
    return len(head) == 12 and head[:4] == b"RIFF" and head[8:] == b"WAVE"


def _chunks(stream: BinaryIO, at: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Name, place and length of the chunks between two places of a file."""
    while at + 8 <= end:
        stream.seek(at)
        name, n_bytes = struct.unpack("<4sI", stream.read(8))
        yield name, at + 8, min(n_bytes, end - at - 8)
        at += 8 + n_bytes + n_bytes % 2
