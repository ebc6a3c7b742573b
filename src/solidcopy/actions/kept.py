"""A value derived from a journal, kept until the journal changes, and made at a bounded cost."""

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

from solidcopy.campaigns.journal.schema import JOURNAL_FILE

T = TypeVar("T")

LEAST_PAUSE_S = 1.0
REST_PER_WORK = 3.0
"""After a second of work nothing is worked out anew for three."""
JOURNAL_FILES = (JOURNAL_FILE, f"{JOURNAL_FILE}-wal")
"""All outcomes lie in these two."""


def stamp_of(folder: Path) -> str:
    """A text that changes whenever something is written into a campaign's journal."""
    parts = []
    for name in JOURNAL_FILES:
        try:
            found = (folder / name).stat()
        except FileNotFoundError:
            continue
        parts.append(f"{found.st_ino:x}.{found.st_size:x}.{found.st_mtime_ns:x}")
    return "-".join(parts)


class Kept(Generic[T]):
    """One such value; used by any number of threads."""

    def __init__(self, make: Callable[[], T]) -> None:
        """`make` reads the journal."""
        self._make = make
        self._lock = threading.Lock()
        self._held: tuple[str, T] | None = None
        self._not_before_s = 0.0

    def get(self, stamp: str) -> tuple[str, T]:
        """The value with the stamp of the journal it was made from.

        That is an older one while another thread makes it anew, and for a while after it was made:
        three times as long as that took, at least a second.

        Args:
            stamp: of the journal now, taken before it is read.
        """
        if not self._lock.acquire(blocking=self._held is None):
            assert self._held is not None  # once there, it is only ever replaced
            return self._held
        try:
            if self._held is None or self._is_due(stamp, self._held[0]):
                began_s = time.monotonic()
                self._held = stamp, self._make()
                ended_s = time.monotonic()
                pause_s = max(LEAST_PAUSE_S, REST_PER_WORK * (ended_s - began_s))
                self._not_before_s = ended_s + pause_s
            return self._held
        finally:
            self._lock.release()

    def _is_due(self, stamp: str, held_stamp: str) -> bool:
        return stamp != held_stamp and time.monotonic() >= self._not_before_s
