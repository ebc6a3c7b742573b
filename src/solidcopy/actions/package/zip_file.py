"""A zip file that is written piece by piece, whole or not at all, with the same bytes each time."""

import hashlib
import shutil
import stat
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from solidcopy.errors import PackageError
from solidcopy.reports.whole_file import put_by

CHUNK_BYTES = 1 << 20
TOO_LONG_FOR_32_BITS = 1 << 31
NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The earliest that the format knows: no clock is read."""
PLAIN_FILE = (stat.S_IFREG | 0o644) << 16


@dataclass(frozen=True, slots=True)
class Member:
    """One file of a zip."""

    name: str
    content: Path | bytes


@dataclass(frozen=True, slots=True)
class Summed:
    """A member as written."""

    name: str
    n_bytes: int
    sha256: str


def write_zip(out: Path, members: Iterable[Member], *, sums: str | None = None) -> list[Summed]:
    """Write members in their order. Each is read once, in pieces; memory stays small.

    Args:
        sums: name of a last member to add: the sums of the others, named from its folder on.
    Raises: PackageError if a file cannot be read, or the zip not be written.
    """
    summed: list[Summed] = []

    def write(file: BinaryIO) -> None:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
            for member in members:
                summed.append(_add(package, member))
            if sums is not None:
                summed.append(_add(package, Member(sums, sums_text(summed, sums).encode())))

    try:
        put_by(out, write)
    except OSError as error:
        raise PackageError(
            f"{error.filename or out}: cannot be packed ({error.strerror}); check the file and "
            "the room on the disk"
        ) from None
    return summed


def sums_text(summed: Iterable[Summed], sums: str) -> str:
    """A line for each member: SHA-256, two blanks, path from the folder of the sums on."""
    head = sums.rpartition("/")[0] + "/"
    return "".join(f"{one.sha256}  {one.name.removeprefix(head)}\n" for one in summed)


def _add(package: zipfile.ZipFile, member: Member) -> Summed:
    info = zipfile.ZipInfo(member.name, NO_TIME)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = PLAIN_FILE
    total, n_bytes = hashlib.sha256(), 0
    is_long = isinstance(member.content, Path) and (
        member.content.stat().st_size >= TOO_LONG_FOR_32_BITS
    )
    with package.open(info, "w", force_zip64=is_long) as inside:
        for piece in _pieces(member.content):
            total.update(piece)
            n_bytes += len(piece)
            inside.write(piece)
    return Summed(member.name, n_bytes, total.hexdigest())


def _pieces(content: Path | bytes) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
        return
    with content.open("rb") as file:
        while piece := file.read(CHUNK_BYTES):
            yield piece


def unpack_one(package: zipfile.ZipFile, member: zipfile.ZipInfo, out: Path) -> str:
    """Write one member, at most as long as the package states. Returns: its SHA-256.

    Raises: PackageError if it is longer or broken.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    total, n_left = hashlib.sha256(), member.file_size
    with package.open(member) as inside, out.open("xb") as file:
        while piece := inside.read(min(CHUNK_BYTES, n_left + 1)):
            n_left -= len(piece)
            if n_left < 0:
                raise PackageError(f"{member.filename!r} in it is longer than it says")
            total.update(piece)
            file.write(piece)
    return total.hexdigest()


def refuse_full_disk(folder: Path, n_bytes: int) -> None:
    """PackageError if a folder has no room for so many bytes."""
    free = shutil.disk_usage(folder).free
    if n_bytes > free:
        raise PackageError(
            f"needs {n_bytes / 1e6:.0f} MB and {folder} has room for {free / 1e6:.0f} MB; choose "
            "another --folder"
        )
