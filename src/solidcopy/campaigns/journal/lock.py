"""One writer for each campaign folder, for as long as its process lives."""

import os
import sys
from pathlib import Path
from typing import Self

import psutil

from solidcopy.campaigns.journal.schema import LOCK_FILE
from solidcopy.errors import JournalError

_PID_LENGTH = 20
_LOCKED_BYTE = 1 << 20
"""Far beyond the text: on Windows a locked byte cannot be read by others."""


def _try_lock(descriptor: int) -> bool:
    """Take the lock without waiting; the system drops it when the process ends."""
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415  (this module exists there only)

            os.lseek(descriptor, _LOCKED_BYTE, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415  (this module does not exist on Windows)

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def holder(folder: Path) -> int | None:
    """Process that writes into a campaign now; None if none does.

    The lock is only tried where the process named in it lives: trying it for a moment must not
    turn away a run that is just starting.
    """
    try:
        text = (folder / LOCK_FILE).read_text("utf-8", errors="replace").strip()
    except FileNotFoundError:
        return None
    if not text.isdecimal() or not psutil.pid_exists(int(text)):
        return None
    try:
        with WriterLock(folder):
            return None
    except JournalError:
        return int(text)


class WriterLock:
    """Held from making to `release`, at the latest until the process ends."""

    def __init__(self, folder: Path) -> None:
        """Raises JournalError naming the process that holds it."""
        path = folder / LOCK_FILE
        self._descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        if not _try_lock(self._descriptor):
            os.lseek(self._descriptor, 0, os.SEEK_SET)
            holder = os.read(self._descriptor, _PID_LENGTH).decode(errors="replace").strip()
            os.close(self._descriptor)
            raise JournalError(
                f"{folder}: another run writes into this campaign (process {holder or 'unknown'})"
                "; wait for it, stop it, or choose another folder"
            )
        os.lseek(self._descriptor, 0, os.SEEK_SET)
        os.write(self._descriptor, f"{os.getpid()}\n".ljust(_PID_LENGTH).encode())

    def release(self) -> None:
        """Let the next writer in. The file stays: removing it would race with the next one."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()
