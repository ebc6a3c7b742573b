"""Loaded by each worker process of this machine as it starts (Dask calls `dask_setup`)."""

import signal

import solidcopy.campaigns.workers  # noqa: F401  (so that the first batch need not wait for it)


def dask_setup(worker: object) -> None:
    """Leave Ctrl-C to the main process: it writes down what is done and ends the workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
