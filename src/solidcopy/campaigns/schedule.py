"""Which trials are still to be run, in which order, and in batches of what size."""

import statistics
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.reader import JournalReader
from solidcopy.campaigns.stop import BLOCK_TRIALS
from solidcopy.campaigns.workers import Job
from solidcopy.trials.expand import TrialKey, nothing_sent_value
from solidcopy.trials.trial import NOTHING_SENT, SENT

BATCH_S = 1.0
"""Aim for the work of a batch: long against the way to a worker, short to lose."""
MANY_BATCH_S = 5.0
"""The same where a receiver takes many recordings at once: the more there are, the quicker."""
MAX_BATCH_JOBS = 200


@dataclass(frozen=True, slots=True)
class Series:
    """Trials that differ in their index only, and how many of them are wanted."""

    condition: int
    receiver: int
    arm: str
    axis_value: float
    place: Place
    n_wanted: int
    n_limit: int
    """To which `n_wanted` may still grow. Where trials are placed adaptively, all the room that a
    curve has left is counted at its first value."""


def wanted_series(reader: JournalReader) -> list[Series]:
    """All series of a plan as its stop rule stands now; what shares its rows appears once."""
    plan = reader.plan
    series: dict[Place, Series] = {}
    for condition in range(len(plan.conditions)):
        for receiver in range(len(plan.receivers)):
            for arm, value, n_wanted, n_limit in _spots(reader, condition, receiver):
                place = reader.series_place(condition, receiver, arm, value)
                new = Series(condition, receiver, arm, value, place, n_wanted, n_limit)
                series.setdefault(place, new)
    return list(series.values())


def _spots(
    reader: JournalReader, condition: int, receiver: int
) -> Iterator[tuple[str, float, int, int]]:
    """Arm, axis value, trials wanted and most that may be wanted, of one curve."""
    plan, asked = reader.plan, reader.asked(condition, receiver)
    room = 0 if asked.is_final else plan.limit_per_curve - sum(asked.n_at.values())
    is_even = plan.axis.placement == "even"
    for value, n in asked.n_at.items():
        grows = room // len(asked.n_at) if is_even else room
        yield SENT, value, n, n + grows
        if not is_even:
            room = 0
    n_silent = plan.stop.nothing_sent
    yield NOTHING_SENT, nothing_sent_value(plan), n_silent, n_silent


def blocks(wanted: list[Series]) -> Iterator[range]:
    """Whole blocks of trial indexes, the lowest first."""
    end = max((series.n_wanted for series in wanted), default=0)
    for first in range(0, end, BLOCK_TRIALS):
        yield range(first, min(first + BLOCK_TRIALS, end))


def jobs_in_block(
    reader: JournalReader, wanted: list[Series], block: range, *, retry_before_run: int = 0
) -> list[Job]:
    """The trials of a block that have no outcome yet, index by index, so that all points grow
    together.

    Args:
        retry_before_run: failures of runs before this number are run again.
    """
    receivers: dict[TrialKey, list[int]] = {}
    for series in wanted:
        span = range(block.start, min(block.stop, series.n_wanted))
        if not span:
            continue
        present = reader.indexes(series.place, span, retry_before_run=retry_before_run)
        for index in span:
            if index not in present:
                key = TrialKey(series.condition, series.arm, series.axis_value, index)
                receivers.setdefault(key, []).append(series.receiver)
    ordered = sorted(receivers, key=lambda key: (key.trial_index, key))
    return [Job(key, tuple(sorted(receivers[key]))) for key in ordered]


def halves(jobs: tuple[Job, ...]) -> list[tuple[Job, ...]]:
    """Two smaller lots of work; a single trial is split by its receivers; none if that is one."""
    if len(jobs) > 1:
        middle = len(jobs) // 2
        return [jobs[:middle], jobs[middle:]]
    (job,) = jobs
    if len(job.receivers) == 1:
        return []
    return [(Job(job.key, (receiver,)),) for receiver in job.receivers]


class BatchSizer:
    """Chooses how many trials make up a batch of a certain length, from what batches cost."""

    def __init__(self, batch_s: float = BATCH_S) -> None:
        self._batch_s = batch_s
        # The first batch of each worker pays for imports; a median forgets it.
        self._costs_s: deque[float] = deque(maxlen=9)

    def learn(self, n_jobs: int, wall_s: float) -> None:
        """A batch of `n_jobs` trials took `wall_s`."""
        self._costs_s.append(wall_s / n_jobs)

    @property
    def n_jobs(self) -> int:
        """Trials for the next batch; 1 as long as nothing is known."""
        if not self._costs_s:
            return 1
        cost_s = max(statistics.median(self._costs_s), 1e-9)
        return max(1, min(MAX_BATCH_JOBS, round(self._batch_s / cost_s)))
