"""A crew of this machine's own processes."""

import logging
import shutil
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import dask
from distributed import Client, LocalCluster

from solidcopy.campaigns.admission import admit_unasked
from solidcopy.campaigns.crew import Crew, DaskCrew
from solidcopy.campaigns.local_workers import CLOSE_S, LOOPBACK, START_S, LocalWorkers
from solidcopy.campaigns.quiet import quiet_engine
from solidcopy.campaigns.roster import FROZEN_S, Roster

WORKERS_FOLDER = "workers"
"""In the campaign folder, while a local cluster runs: its scratch files."""

_ONE_THREAD = {
    "OMP_NUM_THREADS": 1,
    "OPENBLAS_NUM_THREADS": 1,
    "MKL_NUM_THREADS": 1,
    "NUMBA_NUM_THREADS": 1,
    "VECLIB_MAXIMUM_THREADS": 1,
}
"""One worker, one core: many workers with many threads each are slower, and sums of floats
would depend on the number of cores."""


@contextmanager
def local_crew(n_workers: int, folder: Path, *, frozen_s: float = FROZEN_S) -> Iterator[Crew]:
    """Worker processes on this machine, reachable from this machine only.

    Args:
        n_workers: processes, >= 1; each runs one trial at a time.
        folder: of the campaign; scratch files go below it and are removed.
        frozen_s: a worker without a sign of life for so long gets no work.
    """
    scratch = folder / WORKERS_FOLDER
    shutil.rmtree(scratch, ignore_errors=True)  # of a run that was killed
    with ExitStack() as stack:
        stack.callback(shutil.rmtree, scratch, ignore_errors=True)
        stack.enter_context(quiet_engine())
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
        stack.callback(client.close, timeout=CLOSE_S)
        workers.await_all(client)
        crew = DaskCrew(
            client, Roster(client, admit_unasked, frozen_s=frozen_s), patience_s=START_S
        )
        crew.await_one()
        yield crew
