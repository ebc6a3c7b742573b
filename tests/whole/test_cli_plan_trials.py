"""`solidcopy plan trials`: numbers, assumptions and minutes, with a pilot and without."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomli_w
from typer.testing import CliRunner

from example_plans import changed, condition
from solidcopy.actions.assumptions import RECEIVERS_ALIKE, assume
from solidcopy.actions.plan_trials import Goal
from solidcopy.campaigns.crew import Ended
from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.campaigns.pace import N_WAVES, measure_pace
from solidcopy.campaigns.workers import Batch, BatchResult
from solidcopy.cli.main import app
from solidcopy.errors import PlanError, SolidcopyError
from solidcopy.receivers.receiver import Decode
from solidcopy.statistics.planning import USUAL_SCALE
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, read_plan
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived
TWO = [
    {"kind": "builtin", "name": "ours", "effort": "belief-propagation"},
    {"kind": "builtin", "name": "theirs", "effort": "ordered-statistics"},
]


def plan_file(folder: Path, **changes: Any) -> Path:
    file = folder / "plan.toml"
    axis = {"start": -24.0, "stop": -18.0, "step": 1.0}
    stop = {"trials_per_point": 150}
    data = {"axis": axis, "receivers": TWO, "stop": stop, **changes}
    file.write_text(tomli_w.dumps(changed(**data)))
    return file


def outcome_of(verdict: Verdict) -> Outcome:
    """With no audio behind it."""
    right = Decode("CQ Q1ABC FN42", 1500.0, 0.0, -20.0) if verdict is Verdict.DECODED else None
    return Outcome(verdict, right, (), 0.1, "0" * 64, None, None)


def write_pilot(plan: Plan, folder: Path, *, midpoint: float, scale: float) -> None:
    """150 trials a point; the second receiver needs 0.5 dB more, on the same luck."""
    generator = np.random.default_rng(5)
    rows = []
    for value in plan.axis.points():
        luck = generator.normal(size=(150, 1)) + 0.7 * generator.normal(size=(150, 2))
        for index, pair in enumerate(luck / np.hypot(1.0, 0.7)):
            key = TrialKey(0, SENT, value, index)
            for receiver, z in enumerate(pair):
                is_decoded = z * scale < value - midpoint - 0.5 * receiver
                verdict = Verdict.DECODED if is_decoded else Verdict.MISSED
                rows.append(Finished(key, receiver, outcome_of(verdict)))
    with JournalWriter(folder, plan, this_environment()) as writer:
        writer.append(rows)


def run(*words: str) -> Any:
    return CliRunner().invoke(app, ["plan", "trials", *words])


def test_a_real_plan_is_timed_and_answered(tmp_path: Path) -> None:
    file = plan_file(tmp_path)
    found = run(str(file), "--half-width-db", "0.1", "--workers", "1", "--json")
    assert found.exit_code == 0, found.output
    said = json.loads(found.stdout)
    assert said["n_workers"] == 1 and said["n_timed"] >= N_WAVES
    assert said["per_s_slowest"] <= said["per_s"] <= said["per_s_fastest"]
    assert said["n_recordings_even"] == 7 * said["trials_per_point"] + 100
    assert said["seconds_even"] == pytest.approx(said["n_recordings_even"] / said["per_s"])
    # FACTS E5 with s = 0.8, d = 1 dB: 173.4 trials, on an axis that holds the whole rise.
    assert said["trials_per_point"] == pytest.approx(173.4, rel=0.02)
    assert not (tmp_path / "plan.campaign").exists()


def test_a_pilot_replaces_what_is_usual(tmp_path: Path) -> None:
    file = plan_file(tmp_path)
    plan = read_plan(file)
    usual = assume(plan, file)
    assert {side.curve.scale for side in usual.sides.values()} == {USUAL_SCALE}
    assert usual.pairs[0].correlation == RECEIVERS_ALIKE and not usual.pairs[0].is_pilot
    write_pilot(plan, tmp_path / "plan.campaign", midpoint=-21.6, scale=1.1)
    seen = assume(plan, file)
    for receiver, midpoint in ((0, -21.6), (1, -21.1)):
        side = seen.sides[0, receiver]
        assert side.is_pilot
        assert side.curve.midpoint == pytest.approx(midpoint, abs=0.35)
        assert side.curve.scale == pytest.approx(1.1, rel=0.35)
    (pair,) = seen.pairs
    assert pair.is_pilot and 0.25 < pair.correlation < 0.7  # 1 / 1.49 of the luck is shared
    # A pilot of other conditions says nothing about these.
    moved = plan_file(tmp_path, conditions=[condition(sending={"audio_hz": 700.0})])
    assert not any(side.is_pilot for side in assume(read_plan(moved), moved).sides.values())


def test_the_text_says_what_is_assumed(tmp_path: Path) -> None:
    file = plan_file(tmp_path)
    found = run(str(file), "--difference-db", "0.5", "--power", "0.9", "--workers", "1")
    assert found.exit_code == 0, found.output
    for words in (
        "a true difference of 0.5 dB",
        "theirs against ours",
        "until decided",
        "no pilot: scale 0.8 dB",
        "the thresholds correlate by 0.4",
        "timed just now",
        "1 worker",
    ):
        assert words in found.output


@pytest.mark.parametrize(
    ("goal", "words"),
    [
        (Goal(None, None), "give one of"),
        (Goal(0.1, 0.5), "give one of"),
        (Goal(-1.0, None), "no useful size"),
        (Goal(0.1, None, p=1.2), "--p must lie"),
        (Goal(None, 0.5, power=0.3), "--power must lie"),
        (Goal(None, 0.5, risk=0.0), "--risk must lie"),
    ],
)
def test_impossible_wishes_are_refused(goal: Goal, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        goal.check()


def test_plans_that_cannot_be_planned_for_are_refused(tmp_path: Path) -> None:
    alone = plan_file(tmp_path, receivers=TWO[:1])
    found = run(str(alone), "--difference-db", "0.5")
    assert found.exit_code != 0 and "two conditions or two receivers" in str(found.exception)
    offset = {"kind": "carrier", "offset_hz": "axis", "signal_to_interference_db": 3.0}
    noise = {"kind": "gaussian-noise", "snr_db": -15.0}
    sweep = plan_file(tmp_path, conditions=[condition(impairments=[noise, offset])])
    found = run(str(sweep), "--half-width-db", "0.5")
    assert found.exit_code != 0 and "axis of levels" in str(found.exception)


class PlayedCrew:
    """Two workers that note their batches."""

    n_workers = 2

    def __init__(self, *, dies: bool = False) -> None:
        self.dies = dies
        self.running: list[Batch] = []
        self.seen: list[Batch] = []

    remark = ""
    members = ()

    @property
    def n_running(self) -> int:
        return len(self.running)

    def submit(self, batch: Batch) -> None:
        self.running.append(batch)
        self.seen.append(batch)

    def wait(self, timeout_s: float) -> list[Ended]:
        batch = self.running.pop()
        return [Ended(batch, None if self.dies else BatchResult((), 0.0))]


def test_the_pace_counts_each_trial_once(tmp_path: Path) -> None:
    plan = read_plan(plan_file(tmp_path, conditions=[condition(), condition(name="again")]))
    crew = PlayedCrew()

    @contextmanager
    def maker() -> Iterator[PlayedCrew]:
        yield crew

    pace = measure_pace(plan, tmp_path, crew_maker=maker)
    jobs = [job for batch in crew.seen for job in batch.jobs]
    assert len({job.key for job in jobs}) == len(jobs) == pace.n_timed + 4
    assert {job.key.axis_value for job in jobs} == set(plan.axis.points())
    assert {job.key.condition for job in jobs} == {0, 1}
    assert all(job.receivers == (0, 1) for job in jobs)
    assert pace.n_workers == 2
    mean, low, high = pace.seconds(1000)
    assert low <= mean <= high
    crew.dies = True
    with pytest.raises(SolidcopyError, match="a worker process died"):
        measure_pace(plan, tmp_path, crew_maker=maker)
