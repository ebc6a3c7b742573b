"""Campaigns of one plan merge into what one machine would have written, or are refused whole."""

import resource
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_samples import ENVIRONMENT, finished, outcome_of, plan_with
from typer.testing import CliRunner

from old_format import as_format_1
from solidcopy.actions.merge import merge
from solidcopy.campaigns.environment import Environment
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.campaigns.progress import progress_of
from solidcopy.cli.main import app
from solidcopy.errors import JournalError
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

N = 20
PLAN = plan_with(axis={"values": [-20.0, -18.0]}, stop={"trials_per_point": N, "nothing_sent": 3})
ROWS = finished(PLAN)
KEY = TrialKey(1, SENT, -18.0, 5)


def campaign(
    folder: Path,
    rows: Sequence[Finished],
    *,
    plan: Plan = PLAN,
    environment: Environment = ENVIRONMENT,
) -> Path:
    with JournalWriter(folder, plan, environment) as writer:
        writer.append(rows)
        writer.settle()
    return folder


def said_by(folder: Path) -> dict[str, Any]:
    with JournalReader(folder) as reader:
        curves = list(product((0, 1), (0, 1)))
        return {
            "fingerprint": reader.fingerprint(),
            "progress": progress_of(reader),
            "tallies": [reader.tallies(*curve) for curve in curves],
            "false decodes": [reader.false_decodes(*curve) for curve in curves],
            "rows": sum(run.n_outcomes for run in reader.runs()),
            "levels": [reader.level_card(condition) for condition in (0, 1)],
        }


@given(st.lists(st.integers(1, 7), min_size=len(ROWS), max_size=len(ROWS)))
@settings(max_examples=4, deadline=None)
def test_any_parts_merge_into_the_whole(parts_of: list[int]) -> None:
    """Bit k of a row's number: whether machine k has it. Rows may be in several."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        whole = said_by(campaign(folder / "whole", ROWS))
        parts = [
            campaign(
                folder / f"part {bit}",
                [row for row, bits in zip(ROWS, parts_of, strict=True) if bits >> bit & 1],
            )
            for bit in range(3)
        ]
        for order in (parts, parts[::-1]):
            merged = merge(order, folder / "merged")
            assert merged.n_outcomes == len(ROWS)
            assert all(part.taken_in.agrees for part in merged.parts)
            assert said_by(folder / "merged") == whole
            assert [path.name for path in (folder / "merged").iterdir()] == ["journal.sqlite"]
            shutil.rmtree(folder / "merged")


def test_index_ranges_of_two_machines(tmp_path: Path) -> None:
    """The second half alone counts for nothing; merged, it does. What follows can go on."""
    first = campaign(tmp_path / "first", [row for row in ROWS if row.key.trial_index < N // 2])
    there = replace(ENVIRONMENT, libraries={"numpy": "3"}, cpu="another processor")
    second = campaign(
        tmp_path / "second",
        [row for row in ROWS if row.key.trial_index >= N // 2],
        environment=there,
    )
    before = {path: path.read_bytes() for path in tmp_path.rglob("journal.sqlite")}
    with JournalReader(second) as reader:
        assert reader.n_counted(0, 0, -20.0) == 0
    said = merge([first, second], tmp_path / "merged").text()
    assert "numpy 3 (first: 2), cpu another processor (first: some processor)" in said
    assert "no trial is in both, so it is not known whether samples and answers agree" in said
    assert before == {path: path.read_bytes() for path in before}, "sources are only read"
    with JournalReader(tmp_path / "merged") as reader:
        assert reader.n_counted(0, 0, -20.0) == N
        assert [run.environment["cpu"] for run in reader.runs()] == [there.cpu, ENVIRONMENT.cpu]
        n_first = sum(row.key.trial_index < N // 2 for row in ROWS)
        assert [run.n_outcomes for run in reader.runs()] == [len(ROWS) - n_first, n_first]
    longer = plan_with(axis={"values": [-20.0, -18.0]}, stop={"trials_per_point": 2 * N})
    more = TrialKey(0, SENT, -20.0, N)
    campaign(tmp_path / "merged", [Finished(more, 0, outcome_of(more))], plan=longer)
    with JournalReader(tmp_path / "merged") as reader:
        assert reader.n_counted(0, 0, -20.0) == N + 1


def changed(row: Finished, what: str) -> Finished:
    outcome = row.outcome
    if what == "samples":
        return replace(row, outcome=replace(outcome, digest="ab" * 32))
    assert what == "verdict" and outcome.verdict is Verdict.MISSED
    return replace(row, outcome=outcome_of(row.key, Verdict.DECODED))


@pytest.mark.parametrize("what", ["samples", "verdict"])
def test_a_disagreement_is_told_and_nothing_merged(what: str, tmp_path: Path) -> None:
    first = campaign(tmp_path / "first", ROWS)
    there = replace(ENVIRONMENT, libraries={"numpy": "3"})
    rows = [changed(row, what) if row.key == KEY else row for row in ROWS]
    second = campaign(tmp_path / "second", rows, environment=there)
    with pytest.raises(JournalError) as error:
        merge([first, second], tmp_path / "merged")
    n_trials = len({row.key for row in ROWS})
    expected = {
        "samples": f"1 of {n_trials} shared trials with other samples, all shared answers agree",
        "verdict": f"2 of {len(ROWS)} shared answers with another verdict",
    }
    assert f"{expected[what]}; the first is trial 2@-18#5" in str(error.value)
    assert "What differs between the machines: numpy 3 (first: 2). Nothing was merged" in str(
        error.value
    )
    assert {path.name for path in tmp_path.iterdir()} == {"first", "second"}
    called = ["merge", str(first), str(second), "--into", str(tmp_path / "merged")]
    assert CliRunner().invoke(app, called).exit_code != 0
    kept = merge([first, second], tmp_path / "merged", keep_first=True)
    assert "; kept is the first" in kept.text()
    assert said_by(tmp_path / "merged") == said_by(first)
    merge([second, first], tmp_path / "other way", keep_first=True)
    assert said_by(tmp_path / "other way") == said_by(second)


def test_other_figures_of_the_same_verdict_are_a_disagreement(tmp_path: Path) -> None:
    key = TrialKey(1, SENT, -18.0, 4)
    first = campaign(tmp_path / "first", ROWS)
    heard = outcome_of(key, elapsed_s=9.0)
    assert heard.right is not None
    other = replace(heard, right=replace(heard.right, snr_db=-18.5))
    rows = [replace(row, outcome=other) if row.key == key else row for row in ROWS]
    second = campaign(tmp_path / "second", rows)
    with pytest.raises(JournalError, match=r"2 of \d+ shared answers with the same verdict and"):
        merge([first, second], tmp_path / "merged")


def test_answers_to_other_samples_are_left_out(tmp_path: Path) -> None:
    """One receiver's answer to a recording that the first campaign has with other samples."""
    first = campaign(tmp_path / "first", [row for row in ROWS if row.receiver == 0])
    rows = [changed(row, "samples") if row.key == KEY else row for row in ROWS]
    second = campaign(tmp_path / "second", rows)
    merged = merge([first, second], tmp_path / "merged", keep_first=True)
    assert merged.n_outcomes == len(ROWS) - 1
    with JournalReader(tmp_path / "merged") as reader:
        assert reader.outcome(KEY, 0).digest != "ab" * 32
        with pytest.raises(JournalError, match="has not been run yet"):
            reader.outcome(KEY, 1)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"root_seed": 8}, '"root_seed" differs'),
        ({"axis": {"values": [-20.0, -17.0]}}, '"axis" differs'),
        (
            {"receivers": [{"kind": "builtin", "name": "ours"}]},
            "one has 2 receivers, the other 1",
        ),
        (
            {
                "receivers": [
                    {"kind": "builtin", "name": "ours"},
                    {"kind": "builtin", "name": "quick", "effort": "ordered-statistics"},
                ]
            },
            'receiver 2 ("quick") differs between their plans',
        ),
    ],
)
def test_another_plan_is_refused(changes: dict[str, Any], said: str, tmp_path: Path) -> None:
    first = campaign(tmp_path / "first", ROWS[:1])
    fields = {"axis": {"values": [-20.0, -18.0]}, **changes}
    second = campaign(tmp_path / "second", ROWS[:1], plan=plan_with(**fields))
    with pytest.raises(JournalError) as error:
        merge([first, second], tmp_path / "merged")
    assert said in str(error.value)
    assert {path.name for path in tmp_path.iterdir()} == {"first", "second"}


def test_another_recipe_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = campaign(tmp_path / "first", ROWS[:1])
    monkeypatch.setattr("solidcopy.trials.identity.MAKER_RECIPE", 99)
    second = campaign(tmp_path / "second", ROWS[:1])
    with pytest.raises(JournalError, match=r'condition 1 \("quiet"\) is the same in both plans, '):
        merge([first, second], tmp_path / "merged")


def test_title_notes_and_numbers_of_trials_may_differ(tmp_path: Path) -> None:
    """The first one's plan counts: of the second, only what that asks for is shown."""
    shorter = plan_with(
        axis={"values": [-20.0, -18.0]},
        stop={"trials_per_point": 5, "nothing_sent": 3},
        title="the other machine",
    )
    first = campaign(tmp_path / "first", finished(shorter), plan=shorter)
    second = campaign(tmp_path / "second", ROWS)
    merge([first, second], tmp_path / "merged")
    assert said_by(tmp_path / "merged")["fingerprint"] == said_by(first)["fingerprint"]
    merge([second, first], tmp_path / "other way")
    assert said_by(tmp_path / "other way") == said_by(second)


def test_a_journal_of_an_earlier_format_and_one_that_is_being_written(tmp_path: Path) -> None:
    half = len(ROWS) // 2
    old = as_format_1(campaign(tmp_path / "old", ROWS[:half]))
    with JournalWriter(tmp_path / "running", PLAN, ENVIRONMENT) as writer:
        writer.append(ROWS[half:])
        merge([old, tmp_path / "running"], tmp_path / "merged")
    assert said_by(tmp_path / "merged") == said_by(campaign(tmp_path / "whole", ROWS))


def test_odd_wishes_are_refused(tmp_path: Path) -> None:
    first = campaign(tmp_path / "first", ROWS[:1])
    for sources in ([first], [first, first], [first, tmp_path / "first" / ".." / "first"]):
        with pytest.raises(JournalError, match="two campaigns or more, each named once"):
            merge(sources, tmp_path / "merged")
    second = campaign(tmp_path / "second", ROWS[:1])
    with pytest.raises(JournalError, match="exists: name a folder that is not there yet"):
        merge([first, second], second)
    with pytest.raises(JournalError, match=r"cannot be made \(No such file"):
        merge([first, second], tmp_path / "not there" / "merged")


def test_no_room_is_a_sentence_and_leaves_nothing(tmp_path: Path) -> None:
    """No file may grow beyond 40 kB: the system's limit stands for a full disk."""
    first = campaign(tmp_path / "first", ROWS)
    second = campaign(tmp_path / "second", ROWS)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (40_960, before[1]))
    try:
        with pytest.raises(JournalError, match="check that the disk has room"):
            merge([first, second], tmp_path / "merged")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert {path.name for path in tmp_path.iterdir()} == {"first", "second"}
