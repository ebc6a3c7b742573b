"""How a campaign is carried out, with workers played by the test: any order, any death.

Expected counts follow from the rule in `verdict_of`, which stands for the receivers.
"""

import hashlib
import random
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from journal_samples import ENVIRONMENT, finished, noise, outcome_of, plan_with

from solidcopy.campaigns.crew import Ended
from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.campaigns.progress import Progress, progress_of
from solidcopy.campaigns.schedule import BatchSizer
from solidcopy.campaigns.stop import BLOCK_TRIALS, looks
from solidcopy.campaigns.workers import Batch, BatchResult, Job
from solidcopy.errors import CalibrationError, JournalError
from solidcopy.statistics.sequential import Lead, count_discordant, decide
from solidcopy.statistics.tally import Tally
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived


def verdict_of(key: TrialKey, receiver: int) -> Verdict:
    """A made-up receiver: decodes more the higher the axis value; the second one is worse."""
    if key.arm != SENT:
        return Verdict.NOTHING_SENT
    draw = hashlib.sha256(f"{key.axis_value}/{key.trial_index}".encode()).digest()[0] / 256.0
    return Verdict.DECODED if draw < (key.axis_value + 23.0 - receiver) / 6.0 else Verdict.MISSED


class DyingWorkerError(Exception):
    """The test's way to end a worker."""


class PlayedCrew:
    """Workers of the test: batches end in an order drawn from a seed."""

    def __init__(self, n_workers: int, seed: int, act: Callable[[Job, int], None]) -> None:
        self.n_workers = n_workers
        self.submitted: list[Batch] = []
        self._random = random.Random(seed)
        self._act = act
        self._running: list[Batch] = []
        self._alone: set[Batch] = set()

    remark = ""
    members = ()

    @property
    def n_running(self) -> int:
        return len(self._running)

    def submit(self, batch: Batch, *, alone: bool = False) -> None:
        self.submitted.append(batch)
        if alone:
            self._alone.add(batch)
        self._running.append(batch)

    def wait(self, timeout_s: float) -> list[Ended]:
        assert self._running, "nothing to wait for"
        self._random.shuffle(self._running)
        batch = self._running.pop()
        outcomes = []
        try:
            for job in batch.jobs:
                for receiver in job.receivers:
                    self._act(job, receiver)
                    outcome = outcome_of(job.key, verdict_of(job.key, receiver))
                    outcomes.append(Finished(job.key, receiver, outcome))
        except DyingWorkerError:
            # What waits at the dead worker is lost with it.
            beside = [one for one in self._running if one not in self._alone][:1]
            lost = [batch, *([] if batch in self._alone else beside)]
            self._running = [one for one in self._running if one not in lost]
            return [Ended(one, None) for one in lost]
        wall_s = self._random.uniform(0.01, 1.0) * len(batch.jobs)
        return [Ended(batch, BatchResult(tuple(outcomes), wall_s))]


def nothing(job: Job, receiver: int) -> None:
    return None


def run(
    plan: Plan,
    folder: Path,
    *,
    n_workers: int = 2,
    seed: int = 1,
    act: Callable[[Job, int], None] = nothing,
    stop_after: int | None = None,
    settings: EngineSettings | None = None,
) -> tuple[list[Progress], PlayedCrew]:
    """Carry out a plan, or only the first `stop_after` steps of it."""
    crew = PlayedCrew(n_workers, seed, act)

    @contextmanager
    def crew_maker() -> Iterator[PlayedCrew]:
        yield crew

    seen = []
    with closing(run_campaign(plan, folder, settings=settings, crew_maker=crew_maker)) as steps:
        for progress in steps:
            seen.append(progress)
            if len(seen) == stop_after:
                break
    return seen, crew


def fingerprint(folder: Path) -> str:
    with JournalReader(folder) as reader:
        return reader.fingerprint()


RULES: dict[str, dict[str, Any]] = {
    "fixed": {"trials_per_point": 60, "nothing_sent": 7},
    "precise": {"threshold_half_width_db": 0.5, "at_most": 400, "nothing_sent": 120},
    "placed": {"threshold_half_width_db": 0.5, "at_most": 400, "nothing_sent": 7},
    "decided": {"until": "decided", "at_most": 120, "nothing_sent": 7},
}
PLACED = {"start": -25.0, "stop": -15.0, "step": 1.0, "placement": "adaptive"}


def plan_under(rule: str, **changes: Any) -> Plan:
    axis = {"axis": PLACED} if rule == "placed" else {}
    return plan_with(stop=RULES[rule], **axis, **changes)


@pytest.mark.parametrize("rule", RULES)
def test_outcomes_do_not_depend_on_the_way(tmp_path: Path, rule: str) -> None:
    plan = plan_under(rule)
    run(plan, tmp_path / "one", n_workers=1)
    expected = fingerprint(tmp_path / "one")
    for n_workers, seed in ((2, 2), (4, 3), (16, 4)):
        run(plan, tmp_path / f"{n_workers}", n_workers=n_workers, seed=seed)
        assert fingerprint(tmp_path / f"{n_workers}") == expected
    stops = random.Random(5)
    for n_workers in range(1, 60):
        seen, _ = run(
            plan,
            tmp_path / "torn",
            n_workers=n_workers,
            seed=n_workers,
            stop_after=stops.randint(1, 40),
        )
        if seen[-1].is_finished:
            break
    assert seen[-1].is_finished
    assert n_workers > 3
    assert fingerprint(tmp_path / "torn") == expected


def test_every_asked_trial_is_run_once(tmp_path: Path) -> None:
    plan = plan_with(stop=RULES["fixed"])
    seen, crew = run(plan, tmp_path)
    jobs = [job for batch in crew.submitted for job in batch.jobs]
    assert len({job.key for job in jobs}) == len(jobs) == 2 * (3 * 60 + 7)
    assert all(job.receivers == (0, 1) for job in jobs)
    assert seen[-1].n_done == seen[-1].n_planned == 2 * len(jobs)
    with JournalReader(tmp_path) as reader:
        expected = [
            sum(verdict_of(TrialKey(1, SENT, v, i), 1) is Verdict.DECODED for i in range(60))
            for v in plan.axis.points()
        ]
        assert reader.points(1, 1).n_decoded.tolist() == expected
        assert reader.false_decodes(1, 1).nothing_sent == Tally(0, 7)
        assert progress_of(reader).is_finished


def test_all_points_grow_together(tmp_path: Path) -> None:
    _, crew = run(plan_with(stop=RULES["fixed"]), tmp_path)
    indexes = [job.key.trial_index for batch in crew.submitted for job in batch.jobs]
    assert indexes == sorted(indexes)


def test_a_precise_curve_gets_no_more_trials(tmp_path: Path) -> None:
    plan = plan_with(stop=RULES["precise"])
    seen, _ = run(plan, tmp_path)
    with JournalReader(tmp_path) as reader:
        for condition in (0, 1):
            for receiver in (0, 1):
                asked = reader.asked(condition, receiver)
                (n,) = set(asked.n_at.values())
                assert asked.is_final
                points = reader.points(condition, receiver)
                assert points.n_scored.tolist() == [n] * 3
                assert n in set(looks(400)) and n < 400
                threshold = read_threshold(points)
                assert isinstance(threshold, Threshold)
                assert threshold.interval.half_width <= 0.5
        assert progress_of(reader).is_finished
        assert progress_of(reader).n_done == seen[-1].n_done == seen[-1].n_planned


def test_an_unreachable_precision_ends_at_the_limit(tmp_path: Path) -> None:
    rule = {"threshold_half_width_db": 0.001, "at_most": 130, "nothing_sent": 0}
    run(plan_with(stop=rule), tmp_path)
    with JournalReader(tmp_path) as reader:
        assert reader.points(0, 0).n_scored.tolist() == [130] * 3


def test_looks_are_whole_blocks_and_grow() -> None:
    found = list(looks(3000))
    assert found[:5] == [50, 100, 150, 200, 250]
    assert all(n % BLOCK_TRIALS == 0 for n in found)
    assert all(10 * later >= 11 * n for n, later in pairwise(found[:-1]))
    assert found[-1] == 3000
    assert list(looks(30)) == [30]


def test_a_trial_that_ends_its_workers_fails_and_the_rest_goes_on(tmp_path: Path) -> None:
    guilty = TrialKey(1, SENT, -20.0, 17)
    deaths = []

    def act(job: Job, receiver: int) -> None:
        if (job.key, receiver) == (guilty, 1):
            deaths.append(job)
            raise DyingWorkerError

    plan = plan_with(stop=RULES["fixed"])
    seen, _ = run(plan, tmp_path, act=act, n_workers=4)
    with JournalReader(tmp_path) as reader:
        failures = [row for row in reader.rows() if row.outcome.verdict is Verdict.FAILED]
        assert [(row.key, row.receiver) for row in failures] == [(guilty, 1)]
        assert failures[0].outcome.failure == "the worker process died 3 times in this trial"
        assert reader.outcome(guilty, 0).verdict is verdict_of(guilty, 0)
        assert sum(1 for _ in reader.rows()) == 2 * 2 * (3 * 60 + 7)
    assert deaths.count(Job(guilty, (1,))) == 3
    assert seen[-1].n_failed == 1
    assert any("a worker process died" in progress.message for progress in seen)


def test_an_accident_of_a_worker_fails_no_trial(tmp_path: Path) -> None:
    plan = plan_with(stop=RULES["fixed"])
    run(plan, tmp_path / "calm")
    accidents = random.Random(3)

    def act(job: Job, receiver: int) -> None:
        if accidents.random() < 0.01:
            raise DyingWorkerError

    run(plan, tmp_path / "rough", act=act, n_workers=3)
    assert fingerprint(tmp_path / "rough") == fingerprint(tmp_path / "calm")


def test_a_recording_that_cannot_be_made_ends_the_campaign(tmp_path: Path) -> None:
    def act(job: Job, receiver: int) -> None:
        if job.key.trial_index == 30:
            raise CalibrationError("the fence clips; lower level_dbfs")

    plan = plan_with(stop=RULES["fixed"])
    with pytest.raises(CalibrationError, match="the fence clips"):
        run(plan, tmp_path, act=act)
    with JournalReader(tmp_path) as reader:
        assert reader.points(0, 0).n_scored.min() > 0
    run(plan, tmp_path)  # the lock is free, and the rest is run


def test_a_finished_campaign_needs_no_workers(tmp_path: Path) -> None:
    plan = plan_with()
    run(plan, tmp_path)
    seen, crew = run(plan_with(title="Renamed"), tmp_path)
    assert crew.submitted == []
    assert seen[-1].is_finished


def test_only_what_a_changed_plan_adds_is_run(tmp_path: Path) -> None:
    run(plan_with(), tmp_path)
    added = plan_with(axis={"values": [-22.0, -20.0, -18.0, -16.0]})
    _, crew = run(added, tmp_path)
    sent = {
        job.key.axis_value for batch in crew.submitted for job in batch.jobs if job.key.arm == SENT
    }
    assert sent == {-16.0}


def test_equal_conditions_and_receivers_share_their_trials(tmp_path: Path) -> None:
    plan = plan_with(
        conditions=[
            {"name": "first", "impairments": [noise()]},
            {"name": "again", "impairments": [noise()]},
        ],
        receivers=[{"kind": "builtin", "name": "ours"}, {"kind": "builtin", "name": "again"}],
    )
    seen, crew = run(plan, tmp_path)
    jobs = [job for batch in crew.submitted for job in batch.jobs]
    assert len(jobs) == 3 * 4 + 2
    assert seen[-1].n_done == seen[-1].n_planned == len(jobs)
    with JournalReader(tmp_path) as reader:
        assert reader.points(1, 1).n_scored.tolist() == [4, 4, 4]
        assert reader.tallies(1, 1) == reader.tallies(0, 0)


def test_failures_are_run_again_only_if_asked(tmp_path: Path) -> None:
    plan = plan_with()
    key = TrialKey(0, SENT, -20.0, 2)
    rows = [
        replace(row, outcome=outcome_of(row.key, Verdict.FAILED)) if row.key == key else row
        for row in finished(plan)
    ]
    with JournalWriter(tmp_path, plan, ENVIRONMENT) as writer:
        writer.append(rows)
    seen, crew = run(plan, tmp_path)
    assert crew.submitted == [] and seen[-1].n_failed == 2
    seen, crew = run(plan, tmp_path, settings=EngineSettings(retry_failed=True))
    assert [job for batch in crew.submitted for job in batch.jobs] == [Job(key, (0, 1))]
    assert seen[-1].n_failed == 0
    assert seen[-1].n_done == seen[-1].n_planned == len(rows)


def test_two_runs_of_one_campaign_cannot_overlap(tmp_path: Path) -> None:
    crew = PlayedCrew(1, 1, nothing)

    @contextmanager
    def crew_maker() -> Iterator[PlayedCrew]:
        yield crew

    with closing(run_campaign(plan_with(), tmp_path, crew_maker=crew_maker)) as steps:
        next(steps)
        with pytest.raises(JournalError, match="another run writes"):
            run(plan_with(), tmp_path)


def test_each_step_may_be_taken_in_another_thread(tmp_path: Path) -> None:
    crew = PlayedCrew(2, 1, nothing)

    @contextmanager
    def crew_maker() -> Iterator[PlayedCrew]:
        yield crew

    steps = run_campaign(plan_with(), tmp_path, crew_maker=crew_maker)
    while True:
        with ThreadPoolExecutor(max_workers=1) as thread:
            progress = thread.submit(next, steps, None).result()
        if progress is None:
            break
        last = progress
    assert last.is_finished


@pytest.mark.parametrize("rule", RULES)
def test_progress_counts_points_and_never_passes_its_bound(tmp_path: Path, rule: str) -> None:
    plan = plan_under(rule)
    seen, _ = run(plan, tmp_path)
    assert seen[-1].n_done == seen[-1].n_planned
    assert all(before.n_done <= after.n_done for before, after in pairwise(seen))
    assert all(step.n_done <= step.n_planned for step in seen)
    curve = seen[-1].curves[1]
    assert (curve.condition_name, curve.receiver_name) == ("quiet", "quick")
    with JournalReader(tmp_path) as reader:
        points = reader.points(0, 1)
    assert [point.n_decoded for point in curve.points] == points.n_decoded.tolist()
    assert [point.n_scored for point in curve.points] == points.n_scored.tolist()


def test_trials_of_an_even_campaign_serve_adaptive_placement(tmp_path: Path) -> None:
    axis = {**PLACED, "placement": "even"}
    run(plan_with(axis=axis, stop={"trials_per_point": 30, "nothing_sent": 7}), tmp_path)
    plan = plan_under("placed")
    seen, crew = run(plan, tmp_path)
    assert seen[-1].is_finished
    assert all(step.n_done <= step.n_planned for step in seen)
    assert seen[-1].n_done == seen[-1].n_planned
    new = [job.key for batch in crew.submitted for job in batch.jobs]
    assert all(key.trial_index >= 30 for key in new)
    run(plan, tmp_path / "fresh")
    with JournalReader(tmp_path) as reader, JournalReader(tmp_path / "fresh") as fresh:
        assert progress_of(reader).is_finished
        assert reader.asked(0, 0) == fresh.asked(0, 0)
        for value, n in fresh.asked(0, 0).n_at.items():
            assert fresh.n_counted(0, 0, value) == n
            assert reader.n_counted(0, 0, value) == max(n, 30)  # nothing measured is hidden


def test_receivers_grow_together_until_they_are_told_apart(tmp_path: Path) -> None:
    plan = plan_under("decided")
    run(plan, tmp_path)
    with JournalReader(tmp_path) as reader:
        for condition in (0, 1):
            first, second = (reader.asked(condition, receiver) for receiver in (0, 1))
            assert first == second
            found = decide(*count_discordant(reader.paired((condition, 0), (condition, 1))))
            assert found.lead is Lead.A_BETTER


def test_folders_of_python_receivers_are_remembered(tmp_path: Path) -> None:
    plan, where = plan_with(), tmp_path / "mine"
    run(plan, tmp_path / "c", settings=EngineSettings(import_folders=(where,)), stop_after=3)
    _, crew = run(plan, tmp_path / "c")
    assert {batch.import_folders for batch in crew.submitted} == {(str(where),)}


def test_batches_grow_to_about_a_second() -> None:
    sizer = BatchSizer()
    assert sizer.n_jobs == 1
    sizer.learn(1, 8.0)  # imports included
    assert sizer.n_jobs == 1
    for _ in range(5):
        sizer.learn(1, 0.05)
    assert sizer.n_jobs == 20
    for _ in range(9):
        sizer.learn(20, 0.001)
    assert sizer.n_jobs == 200
