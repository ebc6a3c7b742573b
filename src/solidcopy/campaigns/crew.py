"""Worker processes that run batches, behind a Dask scheduler on this machine or elsewhere.

A crew knows nothing of plans or journals. It hands back each batch with its result, or without
one if the process that ran it died or stands still.
"""

import queue
import time
from collections import deque
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from typing import Protocol

from distributed import Client, Future
from distributed.scheduler import KilledWorker

from solidcopy.campaigns.admission import ASK_S, TRY_S, Member
from solidcopy.campaigns.roster import Roster
from solidcopy.campaigns.workers import Batch, BatchResult, run_batch
from solidcopy.errors import WorkersError

BATCHES_PER_WORKER = 2
"""One runs, one waits; more would only be lost together."""
LOOK_EVERY_S = 0.5
"""While nothing ends, it is looked so often whether the workers are still there."""


@dataclass(frozen=True, slots=True)
class Ended:
    """A batch that runs no more."""

    batch: Batch
    result: BatchResult | None
    """None: the process that ran it died."""


class Crew(Protocol):
    """Whoever runs batches."""

    @property
    def n_workers(self) -> int:
        """Batches that can run at once, at least 1."""

    @property
    def n_running(self) -> int:
        """Batches that were submitted and have not ended."""

    def submit(self, batch: Batch, *, alone: bool = False) -> None:
        """Have a batch run; returns at once.

        Args:
            batch: the work.
            alone: nothing else may be at its worker: should that die, this batch is the cause.
        """

    def wait(self, timeout_s: float) -> list[Ended]:
        """Batches that have ended, after waiting for the first; empty after `timeout_s`.

        Raises: whatever a batch raised.
        """

    @property
    def remark(self) -> str:
        """What a person should know of the workers now; "" if nothing."""

    @property
    def members(self) -> Iterable[Member]:
        """Workers elsewhere that were admitted so far; none of this machine's own."""


CrewMaker = Callable[[], AbstractContextManager[Crew]]
"""Starts a crew when there is work, and ends it."""


@dataclass(frozen=True, slots=True)
class _Placed:
    """A batch at a worker."""

    batch: Batch
    address: str
    is_alone: bool


class DaskCrew:
    """Workers behind a Dask scheduler. Which worker gets a batch is decided here and not by the
    scheduler: only those that were admitted get any, none is given more than it can run soon, and
    what was at one that died or stands still is known.
    """

    def __init__(self, client: Client, roster: Roster, *, patience_s: float) -> None:
        """`patience_s`: how long to wait when no worker is left."""
        self._client = client
        self._roster = roster
        self._patience_s = patience_s
        self._with_workers_at = time.monotonic()
        self._waiting: deque[Batch] = deque()
        self._waiting_alone: deque[Batch] = deque()
        self._running: dict[Future[BatchResult], _Placed] = {}
        self._ended: queue.SimpleQueue[Future[BatchResult]] = queue.SimpleQueue()
        self._admitted: dict[str, Member] = {}

    @property
    def n_workers(self) -> int:
        """Batches that can run at once, at least 1."""
        return max(1, len(self._roster.members))

    @property
    def n_running(self) -> int:
        """Batches that were submitted and have not ended."""
        return len(self._waiting) + len(self._waiting_alone) + len(self._running)

    @property
    def remark(self) -> str:
        """Workers that were refused, or that there are none."""
        said = list(self._roster.refusals)
        if not self._roster.members:
            said.insert(0, "no worker is there; waiting for one")
        return "; ".join(said)

    @property
    def members(self) -> Iterable[Member]:
        """Workers elsewhere that were admitted so far."""
        return self._admitted.values()

    def submit(self, batch: Batch, *, alone: bool = False) -> None:
        """See `Crew.submit`."""
        (self._waiting_alone if alone else self._waiting).append(batch)
        self._place()

    def wait(self, timeout_s: float) -> list[Ended]:
        """See `Crew.wait`. Raises WorkersError if the scheduler or all workers are gone."""
        deadline = time.monotonic() + timeout_s
        found: list[Ended] = []
        while True:
            found += self._lost()
            self._place()
            left_s = 0.0 if found else deadline - time.monotonic()
            found += self._finished(min(max(0.0, left_s), LOOK_EVERY_S))
            if found or left_s <= 0.0:
                return found

    def await_one(self) -> None:
        """Return when every worker that is there was asked, and one of them may work.

        Raises: WorkersError if one may not, or if none comes.
        """
        while not (self._look() or self._roster.refusals) or self._roster.n_asked:
            time.sleep(0.05)
        if self._roster.refusals:
            raise WorkersError("; ".join(self._roster.refusals) + "; then give the command again")

    def _look(self) -> bool:
        """Whether some worker may work. Raises WorkersError if none does for long."""
        now = time.monotonic()
        if self._client.status == "connecting":  # again; it gives up by itself
            self._with_workers_at = now
            return False
        if self._client.status != "running":
            raise WorkersError(
                "the scheduler of the workers is gone; everything that had finished is in the "
                "journal: start it and its workers, and run the same command again to go on"
            )
        self._roster.look()
        members = self._roster.members
        if members:
            self._with_workers_at = now
            self._admitted.update(
                {address: member for address, member in members.items() if member.tried}
            )
        getting_ready_s = ASK_S + TRY_S if self._roster.n_asked else 0.0
        if now - self._with_workers_at > self._patience_s + getting_ready_s:
            told = self._roster.refusals or ["none is there, or none got ready"]
            raise WorkersError(
                f"no worker for {self._patience_s:g} s: {'; '.join(told)}; start some with `dask "
                "worker` and the scheduler's address, and give the same command again"
            )
        return bool(members)

    def _lost(self) -> list[Ended]:
        """Batches at workers that have gone or stand still."""
        if not self._look() and self._client.status != "running":
            return []
        members = self._roster.members
        lost = {
            future: placed
            for future, placed in self._running.items()
            # Of a broken connection to the scheduler nobody died: see `_end_of`.
            if placed.address not in members and future.status == "pending"
        }
        for future in lost:
            del self._running[future]
            future.cancel()
        return [Ended(placed.batch, None) for placed in lost.values()]

    def _place(self) -> None:
        """Hand waiting batches to those workers that have the least to do. While some wait to be
        alone, others must wait, or no worker would ever be free.
        """
        if not (self._waiting or self._waiting_alone) or not self._look():
            return
        members = self._roster.members
        n_there = dict.fromkeys(members, 0)
        for placed in self._running.values():
            if placed.address in n_there:
                n_there[placed.address] += BATCHES_PER_WORKER if placed.is_alone else 1
        while self._waiting or self._waiting_alone:
            n_least, address = min((n, address) for address, n in n_there.items())
            is_alone = bool(self._waiting_alone)
            if n_least >= (1 if is_alone else BATCHES_PER_WORKER):
                return
            batch = (self._waiting_alone if is_alone else self._waiting).popleft()
            self._send(_Placed(batch, address, is_alone), members[address])
            n_there[address] += BATCHES_PER_WORKER if is_alone else 1

    def _send(self, placed: _Placed, member: Member) -> None:
        batch = placed.batch
        if member.plan_json is not None:
            batch = replace(batch, plan_json=member.plan_json)
        future = self._client.submit(
            run_batch, batch, pure=False, workers=[placed.address], allow_other_workers=False
        )
        self._running[future] = placed
        future.add_done_callback(self._ended.put)

    def _finished(self, timeout_s: float) -> list[Ended]:
        """Batches that have ended by themselves, after waiting for the first."""
        found: list[Ended] = []
        try:
            future = self._ended.get(timeout=timeout_s) if timeout_s else self._ended.get_nowait()
            while True:
                ended = self._end_of(future)
                found += [] if ended is None else [ended]
                future = self._ended.get_nowait()
        except queue.Empty:
            return found

    def _end_of(self, future: "Future[BatchResult]") -> Ended | None:
        placed = self._running.pop(future, None)
        if placed is None:  # it was given up, as its worker stood still
            return None
        if future.status == "finished":
            return Ended(placed.batch, future.result())
        if future.status == "error":
            error = future.exception()
            if isinstance(error, KilledWorker):
                self._roster.strike(placed.address)
                return Ended(placed.batch, None)
            assert error is not None
            raise error
        # The connection to the scheduler broke: nobody died of this batch.
        (self._waiting_alone if placed.is_alone else self._waiting).appendleft(placed.batch)
        return None
