"""How fast this machine makes and receives trials: a few are, by the code that runs campaigns."""

import math
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import count, cycle, islice, product
from pathlib import Path

from solidcopy.campaigns.crew import Crew, CrewMaker
from solidcopy.campaigns.engine import usable_cores
from solidcopy.campaigns.local_crew import local_crew
from solidcopy.campaigns.workers import Batch, Job
from solidcopy.errors import SolidcopyError
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

N_WAVES, WAVE_S = 4, 1.5
"""Waves of batches, one for each worker; the spread is that between waves."""
MAX_PER_BATCH = 50


@dataclass(frozen=True, slots=True)
class Pace:
    """A measured rate. A trial here is one recording, heard by all receivers of the plan.

    Args:
        per_s: trials per second of all workers together.
        slowest, fastest: of the waves, trials per second.
        n_timed: trials that were timed.
        n_workers: processes that worked at once.
    """

    per_s: float
    slowest: float
    fastest: float
    n_timed: int
    n_workers: int

    def seconds(self, n_trials: int) -> tuple[float, float, float]:
        """That so many trials take: at the mean, fastest and slowest rate."""
        return n_trials / self.per_s, n_trials / self.fastest, n_trials / self.slowest


def measure_pace(
    plan: Plan,
    import_folder: Path,
    *,
    n_workers: int | None = None,
    crew_maker: CrewMaker | None = None,
) -> Pace:
    """Make and receive trials of a plan on this machine's workers, for some seconds.

    All conditions and axis values take their turn, as in an evenly placed campaign. Starting the
    workers, and the first trial of each, do not count.

    Args:
        plan: whose trials.
        import_folder: where the modules of Python receivers are looked for.
        n_workers: processes; None: one for each core.
        crew_maker: who works instead.
    Raises: PlanError, CalibrationError, AudioFileError, as a run would; SolidcopyError where no
        trial could be received.
    """
    chosen = n_workers or usable_cores()
    empty = Batch(plan.model_dump_json(), (), (str(import_folder.resolve()),))
    jobs = _jobs(plan)

    def batch(n: int) -> Batch:
        return Batch(empty.plan_json, tuple(islice(jobs, n)), empty.import_folders)

    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        crew = stack.enter_context(crew_maker() if crew_maker else local_crew(chosen, folder))
        n_workers_used = crew.n_workers
        _wave(crew, [batch(1) for _ in range(n_workers_used)])  # imports and compilation
        warm_s = _wave(crew, [batch(1) for _ in range(n_workers_used)])
        n_each = max(1, min(MAX_PER_BATCH, math.floor(WAVE_S / max(warm_s, 1e-3))))
        n_wave = n_each * n_workers_used
        took_s = [
            _wave(crew, [batch(n_each) for _ in range(n_workers_used)]) for _ in range(N_WAVES)
        ]
    n_timed = n_wave * N_WAVES
    return Pace(
        n_timed / sum(took_s), n_wave / max(took_s), n_wave / min(took_s), n_timed, n_workers_used
    )


def _wave(crew: Crew, batches: list[Batch]) -> float:
    """Seconds that these batches take at once."""
    start = time.perf_counter()
    for batch in batches:
        crew.submit(batch)
    while crew.n_running:
        for ended in crew.wait(1.0):
            if ended.result is None:
                raise SolidcopyError(
                    "a worker process died while trials were timed: a receiver of the plan ends "
                    "its process; run the plan to see which trial it is"
                )
    return time.perf_counter() - start


def _jobs(plan: Plan) -> Iterator[Job]:
    """Trials without end; conditions and axis values in turn."""
    receivers = tuple(range(len(plan.receivers)))
    places = list(product(plan.axis.points(), range(len(plan.conditions))))
    step = next((step for step in (7, 11, 13) if len(places) % step), 1)
    scattered = [places[i * step % len(places)] for i in range(len(places))]
    for index, (value, condition) in zip(count(), cycle(scattered), strict=False):
        yield Job(TrialKey(condition, SENT, value, index), receivers)
