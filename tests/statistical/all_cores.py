"""Simulations spread over all cores, each piece with a seed of its own."""

import multiprocessing
import os
from collections.abc import Callable, Iterable
from contextlib import contextmanager
from typing import TypeVar

import numpy as np

Piece = TypeVar("Piece")
Result = TypeVar("Result")

ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


@contextmanager
def _single_threaded_children():
    """Many processes with many threads each are slower than one thread each."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def on_all_cores(
    work: Callable[[Piece], Result], pieces: Iterable[Piece]
) -> Iterable[tuple[Piece, Result]]:
    """Pieces with their results, as they come in; `work` is a function of a module, not of a test.

    One core is served without any process, so that a small test starts none.
    """
    listed = list(pieces)
    n_cores = len(os.sched_getaffinity(0))
    if n_cores == 1 or len(listed) == 1:
        yield from ((piece, work(piece)) for piece in listed)
        return
    with (
        _single_threaded_children(),
        multiprocessing.get_context("spawn").Pool(n_cores) as pool,
    ):
        yield from pool.imap_unordered(_Named(work), listed)


class _Named:
    """Keeps a piece with its result."""

    def __init__(self, work):
        self.work = work

    def __call__(self, piece):
        return piece, self.work(piece)


def generator_of(*key: int) -> np.random.Generator:
    """One piece's own chance."""
    return np.random.default_rng(np.random.SeedSequence(2026, spawn_key=key))
