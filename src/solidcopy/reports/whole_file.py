"""Files that appear whole or not at all."""

import os
import tempfile
from collections.abc import Callable
from io import TextIOWrapper
from pathlib import Path
from typing import BinaryIO, TextIO


def put_text(path: Path, text: str) -> Path:
    """Write a file whole or not at all."""
    return put_bytes(path, text.encode("utf-8"))


def put_bytes(path: Path, content: bytes) -> Path:
    """Write a file whole or not at all."""
    return put_by(path, lambda file: file.write(content))


def put_lines(path: Path, write: Callable[[TextIO], object]) -> Path:
    """Write a file of text piece by piece, whole or not at all."""

    def write_text(file: BinaryIO) -> None:
        # newline="": a CSV or SVG has the same bytes on every system.
        text = TextIOWrapper(file, encoding="utf-8", newline="")
        write(text)
        text.detach()

    return put_by(path, write_text)


def put_by(path: Path, write: Callable[[BinaryIO], object]) -> Path:
    """Write beside the path and rename, so that a reader never meets half a file."""
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        with open(descriptor, "wb") as file:
            write(file)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path
