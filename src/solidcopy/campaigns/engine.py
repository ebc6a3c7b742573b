"""A plan being carried out: blocks of trials go to workers, outcomes into the journal.

The journal is the only state. Whatever is lost (a batch with its worker, a whole run) is found
missing and run again; since trials are pure functions of their recipe, the outcomes are the same
whatever happened on the way.
"""

import os
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, islice
from pathlib import Path

from solidcopy.campaigns.crew import BATCHES_PER_WORKER, Crew, CrewMaker, Ended
from solidcopy.campaigns.environment import Environment, this_environment
from solidcopy.campaigns.journal.reader import JournalReader
from solidcopy.campaigns.journal.records import Finished
from solidcopy.campaigns.journal.writer import JournalWriter
from solidcopy.campaigns.local_crew import local_crew
from solidcopy.campaigns.machines import machines_of
from solidcopy.campaigns.progress import Progress, ProgressCounter
from solidcopy.campaigns.reference import reference_of
from solidcopy.campaigns.remote_crew import Cluster, remote_crew
from solidcopy.campaigns.schedule import (
    BATCH_S,
    MANY_BATCH_S,
    BatchSizer,
    Series,
    blocks,
    halves,
    jobs_in_block,
    wanted_series,
)
from solidcopy.campaigns.share import Share
from solidcopy.campaigns.stop import BLOCK_TRIALS
from solidcopy.campaigns.workers import Batch, Job
from solidcopy.errors import JournalError, PlanError
from solidcopy.receivers.station_settings import StationSettings
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan

MAX_DEATHS = 3
"""A trial that ends its worker this often, with nothing else at that worker, is FAILED."""
REPORT_EVERY_S = 0.5


@dataclass(frozen=True, slots=True)
class EngineSettings:
    """How a campaign is carried out. Nothing in here can alter an outcome.

    Args:
        n_workers: processes on this machine; None: one per core.
        cluster: workers elsewhere, to use instead.
        retry_failed: run again what ended FAILED in earlier runs.
        import_folders: where the modules of Python receivers are looked for, before the current
            directory: the plan file's folder. None: as in this campaign's last run.
        share: only these trials, as other machines run the rest; None: all.
    """

    n_workers: int | None = None
    cluster: Cluster | None = None
    retry_failed: bool = False
    import_folders: tuple[Path, ...] | None = None
    share: Share | None = None

    def __post_init__(self) -> None:
        if self.n_workers is not None and self.n_workers < 1:
            raise ValueError(f"n_workers must be at least 1, not {self.n_workers}")

    def crew_maker(self, folder: Path, reader: JournalReader, empty_batch: Batch) -> CrewMaker:
        """Starts the workers, or finds them, when they are needed."""
        if self.cluster is not None:
            return partial(remote_crew, self.cluster, reference_of(reader, empty_batch))
        n_workers = self.n_workers or usable_cores()
        return partial(local_crew, n_workers, folder)


def usable_cores() -> int:
    """Processor cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):  # where the system lets processes be confined
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def run_campaign(
    plan: Plan,
    folder: Path,
    *,
    settings: EngineSettings | None = None,
    crew_maker: CrewMaker | None = None,
) -> Iterator[Progress]:
    """Run all trials of a plan that have no outcome yet.

    The workers are processes that import the caller's main module again: a script must call this
    below `if __name__ == "__main__":`. Closing the generator, or Ctrl-C, ends the run; what had
    finished is kept, and the same call goes on from there. Wrap it in `contextlib.closing`.

    Args:
        plan: the question.
        folder: of the campaign; holds the journal; made if missing.
        settings: how to carry it out.
        crew_maker: who runs batches instead of the workers that `settings` name.
    Yields: Progress, about twice a second; the last one has `is_finished`.
    Raises: JournalError if the folder's journal is locked, damaged or another plan's; PlanError,
        CalibrationError, AudioFileError if a trial cannot be made as planned; WorkersError if
        workers elsewhere cannot be used.
    """
    if all(isinstance(receiver, StationSettings) for receiver in plan.receivers):
        raise PlanError(
            "every receiver of the plan listens live to a sound device: `solidcopy play` plays to "
            "it; add a receiver that can be run here to compare it with"
        )
    chosen = settings or EngineSettings()
    if chosen.share is not None:
        chosen.share.refuse_open_end(plan)
    environment = this_environment(import_folders=_import_folders(chosen, folder))
    with ExitStack() as stack:
        writer = stack.enter_context(
            JournalWriter(folder, plan, environment, retry_failed=chosen.retry_failed)
        )
        reader = stack.enter_context(JournalReader(folder))
        retry_before_run = writer.run if chosen.retry_failed else 0
        run = _Run(writer, reader, environment, retry_before_run, chosen.share)
        maker = crew_maker or chosen.crew_maker(folder, reader, run.empty_batch)
        yield from run.carry_out(maker)


def _import_folders(settings: EngineSettings, folder: Path) -> tuple[str, ...]:
    if settings.import_folders is not None:
        return tuple(str(path.resolve()) for path in settings.import_folders)
    try:
        with JournalReader(folder) as reader:
            return tuple(reader.runs()[-1].environment.get("import_folders", ()))
    except JournalError:
        return ()  # none yet, or one that the writer will complain of


class _Run:
    """One run of a campaign, from opening its journal to the last outcome."""

    def __init__(
        self,
        writer: JournalWriter,
        reader: JournalReader,
        environment: Environment,
        retry_before_run: int,
        share: Share | None,
    ) -> None:
        self._share = share
        self._writer = writer
        self._reader = reader
        self._retry_before_run = retry_before_run
        self._environment = environment
        self._n_members = 0
        self.empty_batch = Batch(reader.plan.model_dump_json(), (), environment.import_folders)
        """The plan, without any trial."""
        takes_many = any(receiver.takes_many for receiver in reader.plan.receivers)
        self._sizer = BatchSizer(MANY_BATCH_S if takes_many else BATCH_S)
        self._suspects: list[Batch] = []
        self._alone: set[Batch] = set()
        """Suspects that are with the crew."""
        self._deaths: Counter[Job] = Counter()
        self._n_left: Counter[int] = Counter()
        """Outcomes still missing in each block that was begun."""
        self._counter = ProgressCounter(reader, self._wanted(), is_retrying=retry_before_run > 0)

    def carry_out(self, crew_maker: CrewMaker) -> Iterator[Progress]:
        """Rounds of work until the stop rule asks for nothing more."""
        yield self._counter.progress("looking for trials to run")
        with ExitStack() as stack:
            crew: Crew | None = None
            while True:
                wanted = self._wanted()
                self._writer.keep_refused(self._reader.refused())
                self._counter.plan_for(wanted)
                jobs = self._missing_jobs(wanted)
                first = next(jobs, None)
                if first is None:
                    break
                if crew is None:
                    yield self._counter.progress("starting the workers")
                    crew = stack.enter_context(crew_maker())
                yield from self._run_all(crew, chain([first], jobs))
            self._writer.settle()
        yield self._counter.progress("finished", is_finished=True)

    def _wanted(self) -> list[Series]:
        """All series, but for receivers that listen live and are played to."""
        receivers = self._reader.plan.receivers
        return [
            series
            for series in wanted_series(self._reader)
            if not isinstance(receivers[series.receiver], StationSettings)
        ]

    def _missing_jobs(self, wanted: list[Series]) -> Iterator[Job]:
        for block in blocks(wanted):
            jobs = jobs_in_block(
                self._reader, wanted, block, retry_before_run=self._retry_before_run
            )
            if self._share is not None:
                jobs = [job for job in jobs if self._share.holds(job.key.trial_index)]
            self._n_left[_block_of(block.start)] += sum(len(job.receivers) for job in jobs)
            yield from jobs

    def _run_all(self, crew: Crew, jobs: Iterator[Job]) -> Iterator[Progress]:
        """Keep the workers busy until all jobs are done."""
        while True:
            self._submit(crew, jobs)
            if not crew.n_running:
                return
            for ended in crew.wait(REPORT_EVERY_S):
                self._keep_or_suspect(ended)
            self._note_machines(crew)
            is_calm = not (self._suspects or self._alone)
            message = "running" if is_calm else "a worker process died; its trials are run again"
            yield self._counter.progress(_told(message, crew))

    def _note_machines(self, crew: Crew) -> None:
        """Write down where the workers are, whenever one came."""
        members = tuple(crew.members)
        if len(members) != self._n_members:
            self._n_members = len(members)
            machines = machines_of(members)
            self._writer.keep_environment(replace(self._environment, machines=machines))

    def _submit(self, crew: Crew, jobs: Iterator[Job]) -> None:
        """Fill the workers' queue. Suspects come first, each alone at its worker."""
        while self._suspects:
            suspect = self._suspects.pop()
            self._alone.add(suspect)
            crew.submit(suspect, alone=True)
        while crew.n_running < BATCHES_PER_WORKER * crew.n_workers:
            chosen = tuple(islice(jobs, self._sizer.n_jobs))
            if not chosen:
                return
            crew.submit(replace(self.empty_batch, jobs=chosen))

    def _keep_or_suspect(self, ended: Ended) -> None:
        """What was at a worker when it died is suspected; what was alone there, is the cause: it
        is split, down to one trial and one receiver.
        """
        was_alone = ended.batch in self._alone
        self._alone.discard(ended.batch)
        if ended.result is not None:
            self._sizer.learn(len(ended.batch.jobs), ended.result.wall_s)
            self._write(ended.result.finished)
        elif was_alone:
            self._split_or_fail(ended.batch)
        else:
            self._suspects.append(ended.batch)

    def _split_or_fail(self, batch: Batch) -> None:
        parts = halves(batch.jobs)
        if parts:
            self._suspects += [replace(batch, jobs=part) for part in parts]
            return
        (job,) = batch.jobs
        self._deaths[job] += 1
        if self._deaths[job] < MAX_DEATHS:
            self._suspects.append(batch)
        else:
            (receiver,) = job.receivers
            self._write((Finished(job.key, receiver, _DIED),))

    def _write(self, finished: tuple[Finished, ...]) -> None:
        self._writer.append(finished)
        self._counter.add(finished)
        is_block_done = False
        for item in finished:
            block = _block_of(item.key.trial_index)
            self._n_left[block] -= 1
            is_block_done |= self._n_left[block] == 0
        if is_block_done:
            self._writer.settle()


_DIED = Outcome(
    verdict=Verdict.FAILED,
    right=None,
    false=(),
    elapsed_s=0.0,
    digest="",
    readings=None,
    failure=f"the worker process died {MAX_DEATHS} times in this trial",
)


def _told(message: str, crew: Crew) -> str:
    return f"{message}; {crew.remark}" if crew.remark else message


def _block_of(trial_index: int) -> int:
    return trial_index // BLOCK_TRIALS
