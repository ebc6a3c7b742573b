"""Batches that cost what they are told and nothing else: they stand for recordings and receivers
where the engine itself is measured. Workers import this module.
"""

import hashlib
import os
import time
from dataclasses import replace

from solidcopy.campaigns.journal.records import Finished
from solidcopy.campaigns.workers import Batch, BatchResult, run_jobs
from solidcopy.trials.outcome import Outcome

COST_MS = "SOLIDCOPY_BENCH_COST_MS"
"""Of each trial; workers are told by their environment."""
KIND = "SOLIDCOPY_BENCH_KIND"
"""`sleep`: as if each worker had a core of its own; `work`: so much processor time."""

models: dict[str, Outcome] = {}
"""By plan: one real outcome, so that the journal's rows are of the usual size."""


def costed_batch(batch: Batch) -> BatchResult:
    """In place of `run_batch`. The model is made once for each worker and is not counted."""
    if batch.plan_json not in models:
        models[batch.plan_json] = run_jobs(Batch(batch.plan_json, ()), batch.jobs[:1])[0].outcome
    start = time.perf_counter()
    spend(len(batch.jobs) * float(os.environ[COST_MS]) / 1000.0)
    finished = []
    for job in batch.jobs:
        digest = hashlib.sha256(str(job.key).encode()).hexdigest()
        outcome = replace(models[batch.plan_json], digest=digest)
        finished += [Finished(job.key, place, outcome) for place in job.receivers]
    return BatchResult(tuple(finished), time.perf_counter() - start)


def spend(cost_s: float) -> None:
    """Sleep so long, or take so much processor time."""
    if os.environ[KIND] == "sleep":
        time.sleep(cost_s)
        return
    until = time.thread_time() + cost_s
    while time.thread_time() < until:
        pass


def spend_alone(n_trials: int, cost_ms: float) -> float:
    """Seconds that trials take in a bare loop of one process, without any engine."""
    start = time.perf_counter()
    for _ in range(n_trials):
        spend(cost_ms / 1000.0)
    return time.perf_counter() - start
