"""Where copies of a program work, and whose turn it is: folders and locks of this machine.

Everything lies below one folder of the user in the system's folder for temporary files. A copy's
folder is locked for as long as its receiver or its guardian lives; one that nobody holds was left
when both were killed at once, and the next receiver removes it and ends what still runs in it.
"""

import contextlib
import fcntl
import os
import random
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from solidcopy.errors import PlanError
from solidcopy.receivers.program.processes import end_marked, remove_tree

HELD = "held"
"""Lock file in a copy's folder."""
WORK = "work"
"""Working folder in a copy's folder."""
MARK = "SOLIDCOPY_COPY"
"""Variable that every process of a copy inherits."""


def own_folder() -> Path:
    """The user's folder for copies and locks. Raises PlanError if another's stands in the way."""
    folder = Path(tempfile.gettempdir()) / f"solidcopy-programs-{os.getuid()}"
    folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid() or found.st_mode & 0o022:
        raise PlanError(
            f"{folder} is not a folder of yours alone, so programs cannot be run in it safely; "
            "remove it, or set TMPDIR to another folder"
        )
    return folder


def mark_of(copy: Path) -> str:
    """Variable of the environment by which the processes of a copy are known."""
    return f"{MARK}={copy}"


class CopyFolder:
    """The folder of one copy of a program. `lock` must stay open in whoever may use it."""

    def __init__(self) -> None:
        """Make it, and remove those that nobody holds."""
        parent = own_folder()
        with _locked(parent / "making"):
            _remove_abandoned(parent)
            self.path = Path(tempfile.mkdtemp(prefix="copy-", dir=parent))
            self.lock = os.open(self.path / HELD, os.O_RDWR | os.O_CREAT, 0o600)
            fcntl.flock(self.lock, fcntl.LOCK_EX)

    @property
    def work(self) -> Path:
        """Where the program runs."""
        return self.path / WORK

    @property
    def mark(self) -> str:
        """See `mark_of`."""
        return mark_of(self.path)

    def release(self) -> None:
        """End what still runs in it (nothing, if its guardian could), and remove it."""
        end_marked(self.mark)
        remove_tree(self.path)
        if self.lock >= 0:
            os.close(self.lock)
            self.lock = -1


class Turns:
    """At most so many copies at once, over all processes of this user that know the same key.

    The locks belong to open files that a guardian inherits: a killed worker's turn ends only when
    its guardian has ended the program.
    """

    def __init__(self, key: str, n_at_once: int) -> None:
        """`key`: letters that name the program."""
        folder = own_folder()
        self.locks = tuple(
            os.open(folder / f"turn-{key}-{number}", os.O_RDWR | os.O_CREAT, 0o600)
            for number in range(n_at_once)
        )

    @contextmanager
    def one(self) -> Iterator[None]:
        """Waits for a turn, and holds it."""
        lock = self._take()
        try:
            yield
        finally:
            fcntl.flock(lock, fcntl.LOCK_UN)

    def _take(self) -> int:
        for lock in self.locks:
            with contextlib.suppress(BlockingIOError):
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                return lock
        # All are taken: wait for any one of them. Chance here decides who waits for whom, and
        # nothing that is measured.
        lock = random.SystemRandom().choice(self.locks)
        fcntl.flock(lock, fcntl.LOCK_EX)
        return lock

    def close(self) -> None:
        """Give the files back."""
        for lock in self.locks:
            os.close(lock)
        self.locks = ()


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def _remove_abandoned(parent: Path) -> None:
    for folder in parent.glob("copy-*"):
        try:
            descriptor = os.open(folder / HELD, os.O_RDWR)
        except OSError:  # killed between making the folder and the lock
            remove_tree(folder)
            continue
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            end_marked(mark_of(folder))
            remove_tree(folder)
        except BlockingIOError:
            pass
        finally:
            os.close(descriptor)
