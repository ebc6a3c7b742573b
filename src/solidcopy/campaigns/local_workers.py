"""Worker processes of this machine, started and ended without waiting for one another."""

import asyncio
import logging
import signal
import sys
import time
from dataclasses import dataclass, field
from multiprocessing import resource_tracker
from pathlib import Path

from distributed import Client, Nanny

from solidcopy.campaigns import worker_start
from solidcopy.errors import SolidcopyError

LOOPBACK = "127.0.0.1"
START_S = 120.0
"""For all workers to have imported the program, on a slow and busy machine."""
CLOSE_S = 1.0


@dataclass(slots=True)
class LocalWorkers:
    """Processes that a nanny each watches over, and starts anew if one dies.

    `begin` and `end` run in the thread of Dask's event loop.
    """

    scheduler_address: str
    scratch: Path
    nannies: list[Nanny] = field(default_factory=list)
    starts: "list[asyncio.Future[Nanny]]" = field(default_factory=list)

    async def begin(self, n_workers: int) -> None:
        """Have them start, without waiting for them: a Ctrl-C meanwhile can then end them."""
        if sys.platform != "win32":
            # They inherit what this thread does not listen to: one that is still importing
            # cannot ignore Ctrl-C by itself. The tracker comes first, as starting it lets the
            # signal in again.
            resource_tracker.ensure_running()
            signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        for _ in range(n_workers):
            nanny = Nanny(
                self.scheduler_address,
                nthreads=1,
                host=LOOPBACK,
                dashboard_address=f"{LOOPBACK}:0",
                silence_logs=logging.CRITICAL,
                memory_limit=0,
                local_directory=str(self.scratch),
                preload=worker_start.__name__,
            )
            self.nannies.append(nanny)
            self.starts.append(asyncio.ensure_future(nanny))

    def await_all(self, client: Client) -> None:
        """Return when all are there. Raises SolidcopyError if one does not come."""
        deadline = time.monotonic() + START_S
        while time.monotonic() < deadline and not self._has_failed():
            try:
                client.wait_for_workers(len(self.nannies), timeout=1.0)
                return
            except TimeoutError:
                continue
        raise SolidcopyError(
            f"the {len(self.nannies)} worker processes did not start; ask for fewer, and let a "
            'script of your own run campaigns below `if __name__ == "__main__":` only'
        )

    def _has_failed(self) -> bool:
        return any(start.done() and start.exception() is not None for start in self.starts)

    async def end(self) -> None:
        """At once: what a worker is doing now would not be kept, and one that is still importing
        could not be asked.
        """
        processes = [nanny.process.process for nanny in self.nannies if nanny.process is not None]
        await asyncio.gather(
            # Closing comes first, so that no nanny starts another process.
            *(nanny.close(timeout=CLOSE_S) for nanny in self.nannies),
            *(process.kill() for process in processes if process is not None),
            return_exceptions=True,
        )
        for start in self.starts:
            start.cancel()
        await asyncio.gather(*self.starts, return_exceptions=True)
