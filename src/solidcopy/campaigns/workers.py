"""What a worker does with a batch of trials. Audio never leaves this process.

Here is the one broad `except`: whatever a receiver throws is its failure and costs one trial.
A recording that cannot be made is the plan's fault and ends the campaign with that error.
"""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from solidcopy.campaigns.journal.records import Finished
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.receivers.failure import last_lines_of
from solidcopy.receivers.receiver import ManySlotsReceiver, Receiver, Reception
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.condition import Condition
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.plan import Plan
from solidcopy.trials.score import score

MOST_AT_ONCE = 200
"""Recordings held together: 144 MB of FT8 at 12 kHz."""


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
    for first in range(0, len(batch.jobs), MOST_AT_ONCE):
        finished += run_jobs(batch, batch.jobs[first : first + MOST_AT_ONCE])
    return BatchResult(tuple(finished), time.perf_counter() - start)


def run_jobs(batch: Batch, jobs: Sequence[Job]) -> list[Finished]:
    """A few trials, each heard by each of its receivers.

    If some receiver takes many recordings at once, they are made first and held together; if not,
    one is held at a time.
    """
    receivers = ready_receivers(batch, jobs)
    if not any(isinstance(receiver, ManySlotsReceiver) for receiver in receivers.values()):
        return [item for job in jobs for item in _hear(batch, [job], receivers)]
    return _hear(batch, jobs, receivers)


def ready_receivers(batch: Batch, jobs: Sequence[Job]) -> dict[int, Receiver]:
    """The receivers that jobs need, by their place in the plan; made once in a worker's life.

    Raises: PlanError if one cannot be had here.
    """
    wanted = {place for job in jobs for place in job.receivers}
    return {place: _receiver(batch.plan_json, place, batch.import_folders) for place in wanted}


def _hear(batch: Batch, jobs: Sequence[Job], receivers: Mapping[int, Receiver]) -> list[Finished]:
    """Make the recordings of jobs, and let each receiver hear those that are meant for it."""
    plan = _plan(batch.plan_json)
    made = []
    for job in jobs:
        at_value = _condition_at(batch.plan_json, job.key.condition, job.key.axis_value)
        made.append(make(trial_of(plan, job.key, at_value)))
    outcomes: dict[tuple[int, int], Finished] = {}
    for place, receiver in receivers.items():
        heard = [number for number, job in enumerate(jobs) if place in job.receivers]
        waveforms = [made[number][0].waveform for number in heard]
        for number, reception in zip(heard, receive_all_safely(receiver, waveforms), strict=True):
            recording, truth = made[number]
            outcome = score(reception, truth, recording)
            outcomes[number, place] = Finished(jobs[number].key, place, outcome)
    return [outcomes[number, place] for number, job in enumerate(jobs) for place in job.receivers]


def receive_all_safely(receiver: Receiver, waveforms: Sequence[Waveform]) -> list[Reception]:
    """The receiver's answers, all at once where it can; a failure costs its own trial only."""
    if isinstance(receiver, ManySlotsReceiver) and len(waveforms) > 1:
        try:
            return receiver.receive_many(waveforms)
        except Exception:
            # One by one below: whatever it was then meets those trials again that it belongs to.
            pass
    return [receive_safely(receiver, waveform) for waveform in waveforms]


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
