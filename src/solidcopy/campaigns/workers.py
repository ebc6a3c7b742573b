"""What a worker does with a batch of trials. Audio never leaves this process.

Here is the one broad `except`: whatever a receiver throws is its failure and costs one trial.
A recording that cannot be made is the plan's fault and ends the campaign with that error.
"""

import time
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from solidcopy.campaigns.journal.records import Finished
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.receivers.failure import last_lines_of
from solidcopy.receivers.receiver import Receiver, Reception
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.condition import Condition
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.plan import Plan
from solidcopy.trials.score import score


@dataclass(frozen=True, slots=True)
class Job:
    """One trial and the receivers that are to hear it."""

    key: TrialKey
    receivers: tuple[int, ...]
    """0-based places in the plan, ascending."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Work for one worker, small enough to lose."""

    plan_json: str
    """As text, so that a worker reads each plan once and remembers it."""
    jobs: tuple[Job, ...]
    import_folders: tuple[str, ...] = ()
    """Where the modules of Python receivers are looked for first."""


@dataclass(frozen=True, slots=True)
class BatchResult:
    """What came of one batch."""

    finished: tuple[Finished, ...]
    wall_s: float


def run_batch(batch: Batch) -> BatchResult:
    """Make each recording once and let its receivers hear it.

    The outcomes depend on the plan and the keys only: a batch that was lost can be run again.

    Raises: PlanError, CalibrationError, AudioFileError if a recording cannot be made or a
        receiver cannot be built.
    """
    start = time.perf_counter()
    finished: list[Finished] = []
    for job in batch.jobs:
        finished += run_job(batch, job)
    return BatchResult(tuple(finished), time.perf_counter() - start)


def run_job(batch: Batch, job: Job) -> list[Finished]:
    """One trial, heard by each of its receivers."""
    plan = _plan(batch.plan_json)
    at_value = _condition_at(batch.plan_json, job.key.condition, job.key.axis_value)
    recording, truth = make(trial_of(plan, job.key, at_value))
    finished = []
    for place in job.receivers:
        receiver = _receiver(batch.plan_json, place, batch.import_folders)
        reception = receive_safely(receiver, recording.waveform)
        finished.append(Finished(job.key, place, score(reception, truth, recording)))
    return finished


def receive_safely(receiver: Receiver, waveform: Waveform) -> Reception:
    """The receiver's answer; an exception becomes a failure that says where and what."""
    start = time.perf_counter()
    try:
        return receiver.receive(waveform)
    except Exception as error:
        return Reception((), time.perf_counter() - start, last_lines_of(error))


@lru_cache(maxsize=4)
def _plan(plan_json: str) -> Plan:
    return Plan.model_validate_json(plan_json)


@lru_cache(maxsize=4096)
def _condition_at(plan_json: str, condition: int, axis_value: float) -> Condition:
    return _plan(plan_json).conditions[condition].at(axis_value)


@lru_cache(maxsize=64)
def _receiver(plan_json: str, place: int, import_folders: tuple[str, ...]) -> Receiver:
    plan = _plan(plan_json)
    folders = tuple(Path(folder) for folder in import_folders)
    return build_receiver(plan.receivers[place], mode_named(plan.mode), import_folders=folders)
