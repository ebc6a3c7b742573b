"""A value derived from a journal, kept until the journal changes, and made at a bounded cost."""

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from pathlib import Path
from typing import Generic, TypeVar

from solidcopy.campaigns.journal import content_version

T = TypeVar("T")

LEAST_PAUSE_S = 1.0
REST_PER_WORK = 3.0
"""After a second of work nothing is worked out anew for three."""
PATIENCE_S = 0.5
"""So long an older value waits for the newer one that is being made."""

_WORKERS = ThreadPoolExecutor(max_workers=2, thread_name_prefix="kept")


def stamp_of(folder: Path) -> str:
    """A text that changes whenever something is written into a campaign's journal.

    It follows from what the journal holds: no clock is in it, and another process finds the same.
    Raises: JournalError if there is no journal, or a damaged one.
    """
    return content_version(folder)


class Kept(Generic[T]):
    """One such value; used by any number of threads. Two of all are made at a time."""

    def __init__(self, make: Callable[[], T], held: tuple[str, T] | None = None) -> None:
        """`make` reads the journal; `held`: what an earlier process made, with its stamp."""
        self._make = make
        self._lock = threading.Lock()
        self._held = held
        self._at_work: Future[tuple[str, T]] | None = None
        self._not_before_s = 0.0

    def get(self, stamp: str, *, is_exact: bool = False) -> tuple[str, T]:
        """The value with the stamp of the journal it was made from.

        That is an older one while it is made anew, if that takes more than half a second, and for
        a while after it was made: three times as long as that took, at least a second.

        Args:
            stamp: of the journal now, taken before it is read.
            is_exact: wait for the value of that stamp, however long it takes.
        """
        found = None if is_exact else self.soon(stamp)
        if found is not None:
            return found
        held, work = self._begin(stamp, may_rest=not is_exact)
        if held is not None and work is None:
            return held
        assert work is not None  # nothing is held, or it may not be taken
        made = work.result()
        # Work that was under way for another stamp may have begun too early.
        return made if made[0] == stamp or not is_exact else self.get(stamp, is_exact=True)

    def soon(self, stamp: str) -> tuple[str, T] | None:
        """As `get`, but None where nothing was made yet and making it takes more than half a
        second; it goes on."""
        held, work = self._begin(stamp, may_rest=True)
        if work is None:
            return held
        wait([work], PATIENCE_S)
        return work.result() if work.done() else held

    def _begin(
        self, stamp: str, *, may_rest: bool
    ) -> tuple[tuple[str, T] | None, Future[tuple[str, T]] | None]:
        """What is held, and the work on what is newer; no work where what is held will do."""
        with self._lock:
            held = self._held
            if held is not None:
                is_resting = self._at_work is None and time.monotonic() < self._not_before_s
                if held[0] == stamp or (may_rest and is_resting):
                    return held, None
            self._at_work = self._at_work or _WORKERS.submit(self._work, stamp)
            return held, self._at_work

    def _work(self, stamp: str) -> tuple[str, T]:
        began_s = time.monotonic()
        try:
            made = stamp, self._make()
            with self._lock:
                self._held = made
            return made
        finally:
            ended_s = time.monotonic()
            with self._lock:
                pause_s = max(LEAST_PAUSE_S, REST_PER_WORK * (ended_s - began_s))
                self._not_before_s = ended_s + pause_s
                self._at_work = None
