"""Take a recording into the bench folder: written piece by piece, checked, then kept or nothing.

What comes in lies under a hidden name beside its place until it is whole and was opened as a sound
file. The hidden name holds the process that writes it, so that what a killed one left behind is
told from what still comes in.
"""

import errno
import os
import re
import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

import psutil

from solidcopy.actions.served import served
from solidcopy.actions.workspace import RECORDINGS, SOUND_SUFFIXES, Workspace
from solidcopy.errors import NotThereError, SolidcopyError, WorkspaceError
from solidcopy.noise.reading import open_sound

INCOMING = ".incoming"
KEPT_FREE_BYTES = 200_000_000
"""Left on the disk for journals and results."""
MOST_NAME = 80
MOST_TRIES = 1000
_LEFT_OVER = re.compile(re.escape(INCOMING) + r"-(\d+)-.*")


@served
@dataclass(frozen=True, slots=True)
class Offer:
    """A name under which a recording can be kept."""

    name: str
    """Free, and allowed as a name here."""
    sentence: str
    """Why it is not the file's own name; empty if it is."""


@served
@dataclass(frozen=True, slots=True)
class Taken:
    """A recording that was taken in."""

    name: str
    """File name in the bench folder."""
    n_bytes: int
    """Size of the file."""
    duration_s: float
    """Length of the sound."""
    findings: tuple[str, ...]
    """What the reader found odd about the file, one sentence each."""


def offer_name(space: Workspace, file_name: str, n_bytes: int) -> Offer:
    """A free name for a file somebody wants to bring, before a byte of it is sent.

    Args:
        file_name: as it is called where it lies.
        n_bytes: its size.
    Raises: WorkspaceError if it is no sound file by its name, or if there is no room for it.
    """
    given = Path(file_name.replace("\\", "/")).name
    stem, suffix = Path(given).stem, Path(given).suffix.lower()
    if suffix not in SOUND_SUFFIXES:
        raise _no_sound(given)
    refuse_without_room(space, n_bytes)
    clean = re.sub(r"[^A-Za-z0-9 _.-]+", "-", stem).strip(" .-_") or "recording"
    for n in range(1, MOST_TRIES):
        tail = suffix if n == 1 else f"-{n}{suffix}"
        name = clean[: MOST_NAME - len(tail)] + tail
        if not _is_taken(space, name):
            return Offer(name, _why(space, given, name))
    raise WorkspaceError(f"{MOST_TRIES} recordings are called like {given!r}: rename the file")


def _why(space: Workspace, given: str, name: str) -> str:
    if name.lower() == given.lower():
        return ""
    try:
        space.recording(given)
    except WorkspaceError:
        return f"{given!r} cannot be a name here, so it is kept as {name!r}."
    return f"A recording {given!r} is there already, so this one is kept as {name!r}."


def _no_sound(name: str) -> WorkspaceError:
    return WorkspaceError(
        f"{name[:MOST_NAME]!r} is no sound file by its name: {', '.join(SOUND_SUFFIXES)} are read"
    )


def _is_taken(space: Workspace, name: str) -> bool:
    try:
        space.recording(name)
    except NotThereError:
        return (space.folder / RECORDINGS / name).exists()
    return True


def refuse_without_room(space: Workspace, n_bytes: int) -> None:
    """Raises WorkspaceError if the disk has no room for so many bytes more."""
    free = shutil.disk_usage(space.folder).free - KEPT_FREE_BYTES
    if n_bytes > free:
        raise WorkspaceError(
            f"the recording needs {megabytes(n_bytes)} and the disk of the bench folder has room "
            f"for {megabytes(max(free, 0))}: make room there, or bring a shorter recording"
        )


def megabytes(n_bytes: int) -> str:
    """E.g. "1.4 GB"."""
    for unit, size in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if n_bytes >= size:
            return f"{n_bytes / size:.1f} {unit}"
    return f"{n_bytes} bytes"


class Incoming:
    """A recording that comes in. Used with `with`; unless it is kept, nothing stays."""

    def __init__(self, space: Workspace, name: str, n_bytes: int | None) -> None:
        """Make room for it.

        Args:
            name: under which it will be kept.
            n_bytes: its size, where that is known.
        Raises: WorkspaceError if the name is unfit or taken, or if there is no room.
        """
        sweep_incoming(space)
        self._final = space.new_recording(name)
        if _is_taken(space, name):
            raise self._taken()
        refuse_without_room(space, n_bytes or 0)
        self._n_bytes, self._n_expected = 0, n_bytes
        # The ending stays: by it the reader knows some kinds of file.
        hidden = f"{INCOMING}-{os.getpid()}-{secrets.token_hex(8)}{self._final.suffix}"
        self._hidden = self._final.with_name(hidden)
        try:
            self._file = self._hidden.open("xb")
        except OSError as error:
            raise self._unwritable(error) from None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()
        self._hidden.unlink(missing_ok=True)

    def write(self, piece: bytes) -> None:
        """The next bytes. Raises WorkspaceError if the disk is full."""
        try:
            self._n_bytes += self._file.write(piece)
        except OSError as error:
            raise self._unwritable(error) from None

    def keep(self) -> Taken:
        """Check what came, and keep it.

        Raises: WorkspaceError if it is not all there, or if the name was taken meanwhile;
            AudioFileError with the reader's sentence if it cannot be read as sound.
        """
        if self._n_expected is not None and self._n_bytes != self._n_expected:
            raise WorkspaceError(
                f"{self._final.name!r} did not come whole ({self._n_bytes} of {self._n_expected} "
                "bytes): bring it again"
            )
        try:
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise self._unwritable(error) from None
        taken = self._checked()
        self._name_it()
        return taken

    def _checked(self) -> Taken:
        try:
            with open_sound(self._hidden) as sound:
                findings = tuple(finding.sentence for finding in sound.findings)
                return Taken(self._final.name, self._n_bytes, sound.duration_s, findings)
        except SolidcopyError as error:
            words = str(error).replace(str(self._hidden), self._final.name)
            raise type(error)(words) from None

    def _name_it(self) -> None:
        """A link is made or refused in one step: it never writes over another file."""
        try:
            os.link(self._hidden, self._final)
        except FileExistsError:
            raise self._taken() from None
        except OSError:  # a file system without links
            if self._final.exists():
                raise self._taken() from None
            self._file.close()
            self._hidden.rename(self._final)

    def _taken(self) -> WorkspaceError:
        return WorkspaceError(
            f"a recording {self._final.name!r} is there already and is never written over: choose "
            "another name"
        )

    def _unwritable(self, error: OSError) -> WorkspaceError:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            return WorkspaceError(
                f"the disk of the bench folder is full; of {self._final.name!r} nothing was kept: "
                "make room, then bring it again"
            )
        return WorkspaceError(
            f"{self._final.name!r} cannot be written into the bench folder ({error.strerror})"
        )


def sweep_incoming(space: Workspace) -> None:
    """Remove what processes that are gone left of recordings that came in."""
    for file in (space.folder / RECORDINGS).glob(f"{INCOMING}-*"):
        found = _LEFT_OVER.fullmatch(file.name)
        if found and not _writes(int(found[1]), file):
            file.unlink(missing_ok=True)


def _writes(pid: int, file: Path) -> bool:
    """Whether the process that began a file lives; a later one may have got its number."""
    try:
        begun_s = float(psutil.Process(pid).create_time())
        return begun_s <= file.stat().st_mtime + 1.0
    except (psutil.Error, OSError):
        return False
