"""Worker processes that run batches: a local Dask cluster, or a scheduler elsewhere.

A crew knows nothing of plans or journals. It hands back each batch with its result, or without
one if the process that ran it died.
"""

import logging
import math
import queue
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import dask
from distributed import Client, Future, LocalCluster
from distributed.scheduler import KilledWorker

from solidcopy.campaigns.local_workers import CLOSE_S, LOOPBACK, LocalWorkers
from solidcopy.campaigns.workers import Batch, BatchResult, run_batch
from solidcopy.errors import SolidcopyError

WORKERS_FOLDER = "workers"
"""In the campaign folder, while a local cluster runs: its scratch files."""
ANSWER_S = 30.0
ASK_EVERY_S = 5.0

_ONE_THREAD = {
    "OMP_NUM_THREADS": 1,
    "OPENBLAS_NUM_THREADS": 1,
    "MKL_NUM_THREADS": 1,
    "NUMBA_NUM_THREADS": 1,
    "VECLIB_MAXIMUM_THREADS": 1,
}
"""One worker, one core: many workers with many threads each are slower, and sums of floats
would depend on the number of cores."""


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

    def submit(self, batch: Batch) -> None:
        """Have a batch run; returns at once."""

    def wait(self, timeout_s: float) -> list[Ended]:
        """Batches that have ended, after waiting for the first; empty after `timeout_s`.

        Raises: whatever a batch raised.
        """


CrewMaker = Callable[[], AbstractContextManager[Crew]]
"""Starts a crew when there is work, and ends it."""


class DaskCrew:
    """Workers behind a Dask scheduler."""

    def __init__(self, client: Client, n_workers: int | None = None) -> None:
        """`n_workers`: None if they may come and go, so that the scheduler must be asked."""
        self._client = client
        self._n_workers = n_workers
        self._asked_at = -math.inf
        self._n_threads = 1
        self._running: dict[Future[BatchResult], Batch] = {}
        self._ended: queue.SimpleQueue[Future[BatchResult]] = queue.SimpleQueue()

    @property
    def n_workers(self) -> int:
        """Batches that can run at once, at least 1."""
        if self._n_workers is not None:
            return self._n_workers
        now = time.monotonic()
        if now - self._asked_at > ASK_EVERY_S:
            workers = self._client.scheduler_info(n_workers=-1)["workers"].values()
            self._n_threads = max(1, sum(worker["nthreads"] for worker in workers))
            self._asked_at = now
        return self._n_threads

    @property
    def n_running(self) -> int:
        """Batches that were submitted and have not ended."""
        return len(self._running)

    def submit(self, batch: Batch) -> None:
        """Have a batch run; returns at once."""
        future = self._client.submit(run_batch, batch, pure=False)
        self._running[future] = batch
        future.add_done_callback(self._ended.put)

    def wait(self, timeout_s: float) -> list[Ended]:
        """See `Crew.wait`. Raises SolidcopyError if the scheduler is gone."""
        try:
            found = [self._ended.get(timeout=timeout_s)]
            while not self._ended.empty():
                found.append(self._ended.get())
        except queue.Empty:
            return []
        return [self._end_of(future) for future in found]

    def _end_of(self, future: "Future[BatchResult]") -> Ended:
        batch = self._running.pop(future)
        if future.status == "finished":
            return Ended(batch, future.result())
        if future.status == "error":
            error = future.exception()
            if isinstance(error, KilledWorker):
                return Ended(batch, None)
            assert error is not None
            raise error
        raise SolidcopyError(
            "the scheduler of the workers is gone; everything that had finished is in the "
            "journal: run the same command again to go on"
        )


@contextmanager
def local_crew(n_workers: int, folder: Path) -> Iterator[Crew]:
    """Worker processes on this machine, reachable from this machine only.

    Args:
        n_workers: processes, >= 1; each runs one trial at a time.
        folder: of the campaign; scratch files go below it and are removed.
    """
    scratch = folder / WORKERS_FOLDER
    shutil.rmtree(scratch, ignore_errors=True)  # of a run that was killed
    with ExitStack() as stack:
        stack.callback(shutil.rmtree, scratch, ignore_errors=True)
        stack.enter_context(dask.config.set({"distributed.nanny.pre-spawn-environ": _ONE_THREAD}))
        # The scheduler only; its http server starts in any case, at a free port.
        cluster = LocalCluster(
            n_workers=0,
            host=LOOPBACK,
            dashboard_address=f"{LOOPBACK}:0",
            silence_logs=logging.CRITICAL,
            # The engine decides what becomes of a batch whose worker died.
            scheduler_kwargs={"allowed_failures": 0},
        )
        stack.callback(cluster.close)
        workers = LocalWorkers(cluster.scheduler_address, scratch)
        stack.callback(cluster.sync, workers.end)
        cluster.sync(workers.begin, n_workers)
        client = Client(cluster, set_as_default=False)
        crew = stack.enter_context(_crew_of(client, n_workers))
        workers.await_all(client)
        yield crew


@contextmanager
def remote_crew(address: str, *, answer_s: float = ANSWER_S) -> Iterator[Crew]:
    """Workers of a scheduler that runs already; they need this program, and the plan's files
    under the same paths.

    Args:
        address: "tcp://host:port", or "tls://host:port" with the certificates that Dask's own
            configuration names.
        answer_s: how long to wait for the scheduler.
    Raises: SolidcopyError if nobody answers there.
    """
    try:
        client = Client(address, timeout=answer_s, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise SolidcopyError(
            f"scheduler {address}: cannot be used ({error}); start one with `dask scheduler`, or "
            "leave the address out to work on this machine"
        ) from None
    with _crew_of(client) as crew:
        yield crew


@contextmanager
def _crew_of(client: Client, n_workers: int | None = None) -> Iterator[Crew]:
    try:
        yield DaskCrew(client, n_workers)
    finally:
        client.close(timeout=CLOSE_S)
