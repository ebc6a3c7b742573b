"""Slots per second on all processors: `python benchmarks/bench_throughput.py [slots]`.

One process for each processor, all at work together; every effort, FT8 and FT4, noise alone and one
transmission near the threshold. A process is new for each line, so its peak memory (resident,
imports included) is that line's own. Wall time: on a shared machine the figures are lower limits.
"""

import multiprocessing
import os
import resource
import sys
import time
from multiprocessing.synchronize import Barrier
from typing import get_args

import numpy as np

from laps import machine
from slots import NEAR_THRESHOLD_DB, make_slot
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings, Effort

Asked = tuple[str, str, float | None, int]
"""Mode, effort, SNR, slots of each process."""

together: list[Barrier] = []


def remember(barrier: Barrier) -> None:
    together.append(barrier)


def receive_slots(asked: Asked, seed: int) -> tuple[float, float]:
    """Seconds for all slots, and the process's peak memory in MiB."""
    mode_name, effort, snr_db, n_slots = asked
    mode = mode_named(mode_name)
    receiver = build_receiver(BuiltinSettings(effort=effort), mode)
    rng = np.random.default_rng(seed)
    slots = [make_slot(rng, mode, snr_db=snr_db) for _ in range(n_slots)]
    receiver.receive(make_slot(rng, mode, snr_db=-10.0))  # loads the compiled loops
    together[0].wait()
    started_s = time.perf_counter()
    for slot in slots:
        receiver.receive(slot)
    elapsed_s = time.perf_counter() - started_s
    return elapsed_s, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def measure(asked: Asked, n_processes: int) -> tuple[float, float]:
    """Slots per second of all processes together, and the largest peak memory in MiB."""
    context = multiprocessing.get_context("spawn")
    barrier = context.Barrier(n_processes)
    with context.Pool(n_processes, remember, (barrier,)) as pool:
        jobs = [pool.apply_async(receive_slots, (asked, seed)) for seed in range(n_processes)]
        results = [job.get() for job in jobs]
    rate = sum(asked[3] / elapsed_s for elapsed_s, _ in results)
    return rate, max(peak for _, peak in results)


def main() -> None:
    n_slots = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    n_processes = os.cpu_count() or 1
    print(machine())
    print(f"{n_processes} processes, {n_slots} slots each")
    print("  mode  effort              slot            slots per second   MiB of a process")
    for mode in NEAR_THRESHOLD_DB:
        for effort in get_args(Effort):
            for snr_db in (None, NEAR_THRESHOLD_DB[mode]):
                rate, peak = measure((mode, effort, snr_db, n_slots), n_processes)
                name = "noise alone" if snr_db is None else f"{snr_db:g} dB"
                print(f"  {mode:5s} {effort:19s} {name:15s} {rate:16.1f} {peak:18.0f}", flush=True)


if __name__ == "__main__":
    main()
