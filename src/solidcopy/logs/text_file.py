"""From the bytes of a file to its lines, saying which encoding was found and which guessed."""

import codecs
import re
from dataclasses import dataclass

from solidcopy.errors import LogError
from solidcopy.logs.entry import Assumption, Line

MARKS = (
    (codecs.BOM_UTF8, "utf-8", "UTF-8 with a byte order mark"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16, little-endian, with a byte order mark"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16, big-endian, with a byte order mark"),
)
MARK = "\ufeff"
CONTROL = [chr(code) for code in range(32) if chr(code) not in "\r\n\t\f"]
MAX_CONTROL_SHARE = 0.02
"""More control characters than this are no text."""

_PADDING = re.compile(r"\0{8,}")


@dataclass(frozen=True, slots=True)
class TextFile:
    """The lines of a file."""

    lines: tuple[Line, ...]
    encoding: str
    """In words."""
    assumptions: tuple[Assumption, ...]
    is_last_line_open: bool
    """The file ends without a line end: its last line may be half written."""


def read_text(content: bytes, name: str) -> TextFile:
    """Decode and split a whole file.

    Args:
        content: all its bytes.
        name: of the file, for sentences.
    Raises: LogError if it is empty or no text.
    """
    if not content.strip(b"\x00\r\n\t "):
        raise LogError(f"{name}: is empty; give the log of a decoding program")
    text, encoding, assumptions = _decoded(content)
    text, more = _without_padding(text)
    assumptions += more
    n_control = sum(map(text.count, CONTROL))
    if n_control > MAX_CONTROL_SHARE * len(text):
        raise LogError(f"{name}: is no text ({n_control} control characters); export it as text")
    parts = re.split(r"\r\n|\n|\r", text)
    is_open = parts[-1].strip() != ""
    lines = parts if is_open else parts[:-1]
    return TextFile(
        # Files joined end to end carry their byte order marks into the middle.
        tuple(Line(number, raw.lstrip(MARK)) for number, raw in enumerate(lines, 1)),
        encoding,
        assumptions,
        is_open,
    )


def _without_padding(text: str) -> tuple[str, tuple[Assumption, ...]]:
    """Without runs of zeros, as a computer leaves them that lost its power while it wrote."""
    runs = _PADDING.findall(text)
    if not runs:
        return text, ()
    n_zeros = sum(map(len, runs))
    said = Assumption(
        f"{n_zeros} zero bytes were left out, as a crash leaves them: a line before may be cut"
    )
    return _PADDING.sub("\n", text.rstrip("\0")), (said,)


def _decoded(content: bytes) -> tuple[str, str, tuple[Assumption, ...]]:
    for mark, codec, words in MARKS:
        if content.startswith(mark):
            return content[len(mark) :].decode(codec, "replace"), words, ()
    codec_16 = _utf16_without_mark(content)
    if codec_16 is not None:
        words = f"{codec_16.upper().replace('-16-', '-16 ')} without a byte order mark"
        said = Assumption("every second byte is zero, so the file was taken to be UTF-16")
        return content.decode(codec_16, "replace"), words, (said,)
    try:
        return content.decode("utf-8"), "ASCII" if content.isascii() else "UTF-8", ()
    except UnicodeDecodeError as error:
        if error.end >= len(content) and error.reason == "unexpected end of data":
            return content.decode("utf-8", "replace"), "UTF-8, cut within a character", ()
        said = Assumption(
            f"byte {error.start} is not UTF-8, so the whole file was read as Latin-1: letters "
            "with accents and the minus sign may be wrong, figures and calls are not"
        )
        return content.decode("latin-1"), "Latin-1", (said,)


def _utf16_without_mark(content: bytes) -> str | None:
    """Latin text in UTF-16 has a zero in nearly every second byte."""
    head = re.sub(rb"\0{8,}", b"", content[:4096])  # of a crash; no text has them
    n_pairs = len(head) // 2
    for codec, zeros in (("utf-16-le", head[1::2]), ("utf-16-be", head[::2])):
        if n_pairs and zeros.count(0) > 0.7 * n_pairs:
            return codec
    return None
