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
from solidcopy.signals.sound_file.chunks import chunks_of, content_of

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
            found = chunks_of(stream)
            lists = [chunk for chunk in found[1] if chunk.name == b"LIST"] if found else []
            bodies = [content_of(stream, chunk, at_most=MAX_COMMENT_BYTES) for chunk in lists]
    except OSError as error:
        raise AudioFileError(f"{path}: cannot be read ({error.strerror})") from None
    return [
        raw.split(b"\0", 1)[0].decode("utf-8", "replace")
        for body in bodies
        if body[:4] == b"INFO"
        for name, raw in _pieces(body[4:])
        if name == b"ICMT"
    ]


def _text_chunk(name: bytes, text: str) -> bytes:
    raw = text.encode("ascii") + b"\0"
    return struct.pack("<4sI", name, len(raw)) + raw + b"\0" * (len(raw) % 2)


def _is_wave(stream: BinaryIO) -> bool:
    stream.seek(0)
    head = stream.read(12)
    return len(head) == 12 and head[:4] == b"RIFF" and head[8:] == b"WAVE"


def _pieces(body: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Names and bytes of the whole pieces of a list."""
    at = 0
    while at + 8 <= len(body):
        name, n_bytes = struct.unpack_from("<4sI", body, at)
        yield name, body[at + 8 : at + 8 + n_bytes]
        at += 8 + n_bytes + n_bytes % 2
