"""Time the receiver on an accelerator: `python benchmarks/bench_accelerator.py [pairs] [noise]`.

Everything in one run on one machine: the compiled receiver beside the accelerated one, slots per
second for noise alone and near the threshold at two levels of effort; whole campaigns' trials per
second, recordings made included, for several numbers of processes; and the outcomes of `pairs`
paired trials around the threshold (2000) and of `noise` trials with nothing sent (10 000), every
difference listed. Ends with one sentence where there is no accelerator. Name the machine when
quoting.
"""

import multiprocessing
import os
import platform
import resource
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any

import numpy as np

from solidcopy.campaigns.journal.records import Finished
from solidcopy.campaigns.workers import MOST_AT_ONCE, Batch, Job, run_batch
from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.batched.arrays import accelerator_namespace
from solidcopy.receivers.builtin.batched.stages import BatchedStages
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings, Effort
from solidcopy.receivers.builtin.stages import CompiledStages, hear_all
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

EFFORTS: tuple[Effort, ...] = ("ordered-statistics", "phase-trellis")
THRESHOLDS_DB = {"ordered-statistics": -21.0, "phase-trellis": -22.5}
AROUND_DB = (-24.0, -23.0, -22.0, -21.0)
N_TIMED = 200
N_WARM = 30
N_PER_PROCESS = 100
N_PAIRED = 60
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


def plan_of(effort: Effort, arithmetics: Sequence[str]) -> Plan:
    """FT8 in white noise, heard with one or more kinds of arithmetic."""
    receivers = [
        {"kind": "builtin", "name": name, "effort": effort, "arithmetic": name}
        for name in arithmetics
    ]
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 8,
            "axis": {"values": sorted({*AROUND_DB, *THRESHOLDS_DB.values()})},
            "stop": {"trials_per_point": 1},
            "conditions": [{"name": "white noise", "impairments": [noise]}],
            "receivers": receivers,
        }
    )


def keys_of(n: int, snrs_db: Sequence[float] | None) -> list[TrialKey]:
    """Trials at several SNRs in turn, or without a signal."""
    if snrs_db is None:
        return [TrialKey(0, NOTHING_SENT, -21.0, index) for index in range(n)]
    n_snrs = len(snrs_db)
    return [TrialKey(0, SENT, snrs_db[i % n_snrs], i // n_snrs) for i in range(n)]


def batches_of(plan: Plan, keys: Sequence[TrialKey], n_each: int) -> list[Batch]:
    """Work for processes."""
    everyone = tuple(range(len(plan.receivers)))
    jobs = [Job(key, everyone) for key in keys]
    text = plan.model_dump_json()
    return [Batch(text, tuple(jobs[i : i + n_each])) for i in range(0, len(jobs), n_each)]


@contextmanager
def processes(n: int) -> Iterator[ProcessPoolExecutor]:
    """Worker processes that have started."""
    with ProcessPoolExecutor(n, multiprocessing.get_context("spawn")) as pool:
        yield pool


def finished_by(pool: ProcessPoolExecutor, batches: Sequence[Batch]) -> list[Finished]:
    """All outcomes of batches."""
    return [item for result in pool.map(run_batch, batches) for item in result.finished]


class TimedStages:
    """Notes how long each kind of question takes."""

    def __init__(self, stages: Any) -> None:
        self.stages = stages
        self.seconds: dict[str, float] = {}

    def answer(self, questions: list[Any]) -> list[Any]:
        started_s = time.perf_counter()
        answers = self.stages.answer(questions)
        kind = type(questions[0]).__name__
        spent_s = time.perf_counter() - started_s
        self.seconds[kind] = self.seconds.get(kind, 0.0) + spent_s
        return answers


def time_receivers(xp: Any, effort: Effort, waveforms: Sequence[Waveform]) -> dict[str, float]:
    """Seconds per slot of either receiver, one process; prints where they go."""
    compiled = build_receiver(BuiltinSettings(effort=effort), mode_named("ft8"))
    seconds = {}
    for name, stages, at_once in (
        ("compiled", CompiledStages(compiled.band), 1),
        ("accelerator", BatchedStages(compiled.band, xp), MOST_AT_ONCE),
    ):
        timed = TimedStages(stages)
        # Once without a clock: whatever is not compiled yet is compiled here.
        for i in range(0, min(N_WARM * at_once, len(waveforms)), at_once):
            hear_all([compiled.hearing(own) for own in waveforms[i : i + at_once]], timed)
        timed.seconds.clear()
        started_s = time.perf_counter()
        for i in range(0, len(waveforms), at_once):
            hear_all([compiled.hearing(own) for own in waveforms[i : i + at_once]], timed)
        seconds[name] = (time.perf_counter() - started_s) / len(waveforms)
        parts = {kind: spent / len(waveforms) for kind, spent in timed.seconds.items()}
        parts["decisions"] = seconds[name] - sum(parts.values())
        listed = ", ".join(f"{kind} {1e3 * spent:.2f}" for kind, spent in parts.items())
        print(f"    {name:12s} {1e3 * seconds[name]:7.2f} ms a slot: {listed}")
    return seconds


def compare_receivers(xp: Any) -> None:
    """Recordings made beforehand, one process."""
    print(f"receiving alone, one process, {N_TIMED} slots, one or {MOST_AT_ONCE} at a time:")
    for effort in EFFORTS:
        plan = plan_of(effort, ["compiled"])
        for name, snrs_db in (("noise alone", None), ("near", [THRESHOLDS_DB[effort]])):
            trials = [trial_of(plan, key) for key in keys_of(N_TIMED, snrs_db)]
            waveforms = [make(trial)[0].waveform for trial in trials]
            print(f"  {effort}, {name}{'' if snrs_db is None else f' {snrs_db[0]:g} dB'}")
            seconds = time_receivers(xp, effort, waveforms)
            ratio = seconds["compiled"] / seconds["accelerator"]
            print(f"    {1.0 / seconds['accelerator']:.0f} slots per second; {ratio:.1f} times")
    used = xp.get_default_memory_pool().total_bytes()
    resident = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"  memory: {used / 2**30:.2f} GiB on the device, {resident / 2**20:.2f} GiB here")


def compare_campaigns(n_processors: int) -> None:
    """Trials per second, making recordings included."""
    print(f"whole trials per second, {N_PER_PROCESS} trials a process and more:")
    for effort in EFFORTS:
        for name, snrs_db in (("noise alone", None), ("near", [THRESHOLDS_DB[effort]])):
            said = []
            for arithmetic in ("compiled", "accelerator"):
                plan = plan_of(effort, [arithmetic])
                for n in sorted({1, 4, n_processors}):
                    if arithmetic == "compiled" and 1 < n < n_processors:
                        continue
                    keys = keys_of(n * N_PER_PROCESS, snrs_db)
                    said.append(f"{arithmetic} x{n} {rate_of(plan, keys, n):.0f}")
            print(f"  {effort}, {name}: {', '.join(said)}", flush=True)


def rate_of(plan: Plan, keys: Sequence[TrialKey], n_processes: int) -> float:
    """Trials per second, once every process has warmed up."""
    warm = batches_of(plan, keys[:8], 8)
    with processes(n_processes) as pool:
        list(pool.map(run_batch, warm * n_processes))
        started_s = time.perf_counter()
        finished_by(pool, batches_of(plan, keys, N_PER_PROCESS))
        return len(keys) / (time.perf_counter() - started_s)


def told(item: Finished) -> tuple[str, ...]:
    """Every text of an outcome."""
    outcome = item.outcome
    right = [] if outcome.right is None else [outcome.right.text]
    return tuple(sorted([*right, *(f"false: {decode.text}" for decode in outcome.false)]))


def compare_outcomes(effort: Effort, keys: Sequence[TrialKey], n_processes: int) -> None:
    """Both receivers on the same recordings, every difference listed."""
    plan = plan_of(effort, ["compiled", "accelerator"])
    with processes(n_processes) as pool:
        items = finished_by(pool, batches_of(plan, keys, N_PAIRED))
    pairs = list(zip(items[::2], items[1::2], strict=True))
    assert all(one.key == other.key for one, other in pairs)
    n_failed = sum(item.outcome.failure is not None for item in items)
    n_each = [sum(bool(told(pair[side])) for pair in pairs) for side in (0, 1)]
    differing = [(one, other) for one, other in pairs if told(one) != told(other)]
    print(
        f"  {effort}, {keys[0].arm}: {len(pairs)} pairs, {n_failed} failures; with decodes: "
        f"compiled {n_each[0]}, accelerator {n_each[1]}; differing {len(differing)}"
    )
    both = [(a.outcome.right, b.outcome.right) for a, b in pairs]
    deviations = [
        (
            abs(a.snr_db - b.snr_db),
            abs(a.audio_hz - b.audio_hz),
            abs(a.information_bits - b.information_bits),
        )
        for a, b in both
        if a is not None and b is not None
    ]
    if deviations:
        snr, hz, bits = np.max(deviations, axis=0)
        print(
            f"    largest difference of a right decode: {snr:.2g} dB, {hz:.2g} Hz, {bits:.2g} bits"
        )
    for one, other in differing:
        print(f"    {one.key}: {told(one)} against {told(other)}")


def main() -> int:
    n_pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    n_noise = int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    try:
        xp = accelerator_namespace()
    except PlanError as error:
        print(f"nothing to time: {error}")
        return 2
    device = xp.cuda.runtime.getDeviceProperties(0)["name"].decode()
    n_processors = os.cpu_count() or 1
    print(
        f"{device}, cupy {xp.__version__}; {n_processors} cores of {platform.machine()}", flush=True
    )
    compare_receivers(xp)
    print("outcomes:", flush=True)
    for effort in EFFORTS:
        compare_outcomes(effort, keys_of(n_pairs, AROUND_DB), n_processors)
    compare_outcomes("phase-trellis", keys_of(n_noise, None), n_processors)
    compare_campaigns(n_processors)
    return 0


if __name__ == "__main__":
    for variable in ONE_THREAD:
        os.environ.setdefault(variable, "1")
    sys.exit(main())
