"""What the engine costs: `python benchmarks/bench_engine.py [seconds of a run] [trials planned]`.

Trials per second, and the share of the workers' time that the engine takes, at 5, 25 and 100 ms a
trial. Trials that sleep let 8 workers be tried on a machine of two processors; trials that work are
set beside the same work in bare processes, by turns, three times, and medians are told. Then a
campaign of a million planned trials that cost nothing is run behind a scheduler of its own, and the
memory of both is watched.
"""

import multiprocessing
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import partial
from pathlib import Path

import psutil

from costed_batches import COST_MS, KIND, costed_batch, spend_alone
from laps import machine
from solidcopy.campaigns import crew
from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.local_crew import local_crew
from solidcopy.campaigns.remote_crew import Cluster
from solidcopy.trials.plan import Plan, parse_plan

COSTS_MS = (5.0, 25.0, 100.0)
N_VALUES = 10
ROUNDS = 3
SHARES = (0.01, 0.1, 0.25, 0.5, 0.75, 1.0)


def plan_of(n_trials: int) -> Plan:
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 1,
            "axis": {"values": [-24.0 + value for value in range(N_VALUES)]},
            "stop": {"trials_per_point": max(1, n_trials // N_VALUES)},
            "conditions": [
                {"name": "c", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]}
            ],
            "receivers": [{"kind": "builtin", "effort": "belief-propagation"}],
        }
    )


def engine_rate(n_workers: int, n_trials: int) -> tuple[float, float]:
    """Trials per second from the first outcome to the last, and the processor time that a trial
    costs this process, which holds run, scheduler and journal, in ms.
    """
    marks: list[tuple[float, float, int]] = []
    with tempfile.TemporaryDirectory() as folder:
        maker = partial(local_crew, n_workers, Path(folder))
        plan = plan_of(n_trials)
        with closing(run_campaign(plan, Path(folder), crew_maker=maker)) as steps:
            for step in steps:
                if step.n_done and (not marks or step.n_done > marks[-1][2]):
                    marks.append((time.perf_counter(), time.process_time(), step.n_done))
    (start_s, before_s, n_first), (end_s, after_s, n_last) = marks[0], marks[-1]
    n = n_last - n_first
    return n / (end_s - start_s), 1000.0 * (after_s - before_s) / n


def bare_rate(n_processes: int, n_trials: int, cost_ms: float) -> float:
    """The same work without an engine."""
    with multiprocessing.get_context("spawn").Pool(n_processes) as pool:
        pool.map(abs, range(n_processes))  # they are there
        start = time.perf_counter()
        pool.starmap(spend_alone, [(n_trials // n_processes, cost_ms)] * n_processes, chunksize=1)
        return n_trials / (time.perf_counter() - start)


def compare(kind: str, n_workers: int, cost_ms: float, run_s: float) -> None:
    os.environ[KIND], os.environ[COST_MS] = kind, str(cost_ms)
    n_trials = round(run_s * 1000.0 / cost_ms) * n_workers
    rates, ratios, own_ms = [], [], 0.0
    for _ in range(ROUNDS if kind == "work" else 1):
        # A sleeping trial costs what it says, whatever else the machine does.
        bare = 1000.0 * n_workers / cost_ms if kind == "sleep" else None
        bare = bare or bare_rate(n_workers, n_trials, cost_ms)
        rate, own_ms = engine_rate(n_workers, n_trials)
        rates.append(rate)
        ratios.append(rates[-1] / bare)
    lost = [f"{100.0 * (1.0 - ratio):.1f}" for ratio in sorted(ratios)]
    print(
        f"  {kind:6s} {n_workers:2d} {cost_ms:8.0f} {statistics.median(rates):14.1f}"
        f" {100.0 * (1.0 - statistics.median(ratios)):8.1f} {own_ms:8.2f}   ({', '.join(lost)})   "
        f"load {os.getloadavg()[0]:.1f}",
        flush=True,
    )


@contextmanager
def own_scheduler(folder: Path, n_workers: int) -> Iterator[tuple[str, int]]:
    """Address of a scheduler, and its process id."""
    dask, port = Path(sys.executable).with_name("dask"), 8799
    address = f"tcp://127.0.0.1:{port}"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    started = [
        subprocess.Popen(
            [dask, "scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"],
            cwd=folder,
            **quiet,
        ),
        subprocess.Popen(
            [dask, "worker", address, "--nworkers", str(n_workers), "--nthreads", "1"],
            cwd=folder,
            **quiet,
        ),
    ]
    try:
        yield address, started[0].pid
    finally:
        for process in reversed(started):
            process.terminate()
            process.wait()


def watch_memory(n_trials: int) -> None:
    """Resident memory of the run and the scheduler while trials that cost nothing are run."""
    os.environ[KIND], os.environ[COST_MS] = "sleep", "0"
    with tempfile.TemporaryDirectory() as name, own_scheduler(Path(name), 2) as (address, pid):
        print(f"{n_trials} planned trials that cost nothing, 2 workers behind a scheduler")
        print("  share     trials   per s   MiB of the run   MiB of the scheduler")
        processes = psutil.Process(), psutil.Process(pid)
        settings = EngineSettings(cluster=Cluster(address))
        told, start = list(SHARES), 0.0
        with closing(run_campaign(plan_of(n_trials), Path(name), settings=settings)) as steps:
            for step in steps:
                start = start or (time.perf_counter() if step.n_done else 0.0)
                if told and step.n_done >= told[0] * step.n_planned:
                    rate = step.n_done / max(1e-9, time.perf_counter() - start)
                    memory = [one.memory_info().rss / 2**20 for one in processes]
                    print(
                        f"  {told.pop(0):5.2f} {step.n_done:10d} {rate:7.0f} {memory[0]:14.0f}"
                        f" {memory[1]:18.0f}",
                        flush=True,
                    )


def main() -> None:
    run_s = float(sys.argv[1]) if len(sys.argv) > 1 else 15.0
    n_planned = int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000
    # Workers find `costed_batches`, and one core is one worker's.
    os.environ["PYTHONPATH"] = os.pathsep.join(
        [str(Path(__file__).parent), *filter(None, [os.environ.get("PYTHONPATH")])]
    )
    crew.run_batch = costed_batch  # type: ignore[attr-defined]
    print(machine())
    print("  trials workers  ms a trial   trials per s   % lost   own ms   (each round)")
    for cost_ms in COSTS_MS:
        for n_workers in (1, 2, 4, 8):
            compare("sleep", n_workers, cost_ms, run_s)
    watch_memory(n_planned)
    for cost_ms in COSTS_MS:
        for n_workers in (1, 2):
            compare("work", n_workers, cost_ms, run_s)


if __name__ == "__main__":
    main()
