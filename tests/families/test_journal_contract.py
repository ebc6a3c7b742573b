"""What every journal must do: keep, refuse, find again. Expected counts follow from the outcomes
written just before.
"""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from journal_samples import (
    ENVIRONMENT,
    digest_of,
    finished,
    noise,
    outcome_of,
    plan_with,
    readings_of,
)

from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.campaigns.journal.schema import FORMAT_VERSION
from solidcopy.errors import JournalError
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.tally import Tally
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

pytestmark = pytest.mark.derived

KEY = TrialKey(0, SENT, -20.0, 0)


def write(folder: Path, plan: Plan, rows: list[Finished], *, retry_failed: bool = False) -> None:
    with JournalWriter(folder, plan, ENVIRONMENT, retry_failed=retry_failed) as writer:
        writer.append(rows)


def test_an_outcome_comes_back_unchanged(tmp_path: Path) -> None:
    outcome = outcome_of(KEY, n_false=2)
    silent = TrialKey(0, NOTHING_SENT, -20.0, 0)
    write(
        tmp_path, plan_with(), [Finished(KEY, 1, outcome), Finished(silent, 1, outcome_of(silent))]
    )
    with JournalReader(tmp_path) as reader:
        assert reader.outcome(KEY, 1) == outcome
        assert reader.outcome(silent, 1) == outcome_of(silent)
        with pytest.raises(JournalError, match="1@-20#0 has not been run"):
            reader.outcome(KEY, 0)


def test_a_trial_whose_worker_died_has_no_recording(tmp_path: Path) -> None:
    lost = replace(outcome_of(KEY, Verdict.FAILED), digest="", readings=None)
    write(tmp_path, plan_with(), [Finished(KEY, 0, lost)])
    with JournalReader(tmp_path) as reader:
        assert reader.outcome(KEY, 0) == lost
        assert reader.level_card(0) == []


def test_points_tallies_and_false_decodes_count_what_was_written(tmp_path: Path) -> None:
    plan = plan_with(conditions=[{"name": "quiet", "impairments": [noise()]}])
    rows = finished(plan)
    odd = TrialKey(0, SENT, -18.0, 1)
    rows = [
        replace(row, outcome=outcome_of(odd, Verdict.FAILED, n_false=1)) if row.key == odd else row
        for row in rows
    ]
    silent = TrialKey(0, NOTHING_SENT, -20.0, 1)
    rows = [
        replace(row, outcome=outcome_of(silent, n_false=3)) if row.key == silent else row
        for row in rows
    ]
    write(tmp_path, plan, rows)
    with JournalReader(tmp_path) as reader:
        points = reader.points(0, 1)
        assert points.unit == "dB"
        assert points.values.tolist() == [-22.0, -20.0, -18.0]
        assert points.n_decoded.tolist() == [2, 2, 2]
        assert points.n_scored.tolist() == [4, 4, 3]
        assert reader.tally(0, 0, -18.0) == Tally(2, 1, 1)
        false = reader.false_decodes(0, 0)
        assert false.sent == Tally(6, 5, 1)
        assert false.nothing_sent == Tally(0, 2, 0, 1, 3)
        assert reader.is_finished(0, 0)


def test_trials_behind_a_gap_do_not_count_yet(tmp_path: Path) -> None:
    plan = plan_with()
    rows = [row for row in finished(plan) if row.key != TrialKey(0, SENT, -22.0, 1)]
    write(tmp_path, plan, rows)
    with JournalReader(tmp_path) as reader:
        assert reader.points(0, 0).n_scored.tolist() == [1, 4, 4]
        assert not reader.is_finished(0, 0)
        assert reader.is_finished(1, 0)


def test_pairs_are_aligned_by_trial_index(tmp_path: Path) -> None:
    plan = plan_with(axis={"values": [-20.0]})
    rows = [
        Finished(key, 0, outcome_of(key, verdict))
        for condition, verdicts in enumerate(
            [
                [Verdict.DECODED, Verdict.DECODED, Verdict.MISSED, Verdict.FAILED],
                [Verdict.MISSED, Verdict.DECODED],
            ]
        )
        for key, verdict in (
            (TrialKey(condition, SENT, -20.0, index), verdict)
            for index, verdict in enumerate(verdicts)
        )
    ]
    write(tmp_path, plan, rows)
    with JournalReader(tmp_path) as reader:
        (point,) = reader.paired((0, 0), (1, 0)).points
    assert point.decoded_a.tolist() == [True, True, False, False]
    assert point.scored_a.tolist() == [True, True, True, False]
    assert point.decoded_b.tolist() == [False, True, False, False]
    assert point.scored_b.tolist() == [True, True, False, False]
    assert (point.n_both, point.n_only_a) == (2, 1)


def test_the_level_card_says_what_was_got(tmp_path: Path) -> None:
    plan = plan_with(axis={"values": [-20.0]}, stop={"trials_per_point": 2, "nothing_sent": 0})
    rows = []
    for index, got_db in enumerate((-20.2, -19.9)):
        key = TrialKey(0, SENT, -20.0, index)
        outcome = replace(outcome_of(key), readings=readings_of(key, got_db=got_db))
        rows += [Finished(key, receiver, outcome) for receiver in (0, 1)]
    write(tmp_path, plan, rows)
    with JournalReader(tmp_path) as reader:
        (level,) = reader.level_card(0)
    assert (level.n_recordings, level.n_silent, level.asked_db) == (2, 0, -20.0)
    # Mean of 10^-2.02 and 10^-1.99 is 10^-2.00474.
    assert level.mean_got_db == pytest.approx(-20.0474, abs=1e-4)
    assert level.sd_got_db == pytest.approx(0.3 / np.sqrt(2.0))
    assert level.worst_difference_db == pytest.approx(-0.2)
    assert level.expected_sd_db == pytest.approx(0.05)


def test_answer_times(tmp_path: Path) -> None:
    plan = plan_with(axis={"values": [-20.0]})
    rows = [
        Finished(key, 0, outcome_of(key, verdict, elapsed_s=elapsed_s))
        for key, verdict, elapsed_s in (
            (TrialKey(0, SENT, -20.0, 0), Verdict.DECODED, 0.1),
            (TrialKey(0, SENT, -20.0, 1), Verdict.MISSED, 0.4),
            (TrialKey(0, SENT, -20.0, 2), Verdict.FAILED, 30.0),
        )
    ]
    write(tmp_path, plan, rows)
    with JournalReader(tmp_path) as reader:
        elapsed = reader.elapsed(0, 0)
        assert not isinstance(elapsed, NoEvidence)
        assert (elapsed.n_trials, elapsed.max_s) == (2, 0.4)
        assert elapsed.mean_s == pytest.approx(0.25)
        assert isinstance(reader.elapsed(0, 1), NoEvidence)


def test_another_verdict_for_the_same_trial_is_refused(tmp_path: Path) -> None:
    plan = plan_with()
    write(tmp_path, plan, [Finished(KEY, 0, outcome_of(KEY))])
    write(tmp_path, plan, [Finished(KEY, 0, outcome_of(KEY, elapsed_s=9.0))])
    with pytest.raises(JournalError, match="scored otherwise before"):
        write(tmp_path, plan, [Finished(KEY, 0, outcome_of(KEY, Verdict.MISSED))])
    other = replace(outcome_of(KEY), digest=digest_of(replace(KEY, trial_index=1)))
    with pytest.raises(JournalError, match="other samples"):
        write(tmp_path, plan, [Finished(KEY, 1, other)])
    with JournalReader(tmp_path) as reader:
        assert reader.outcome(KEY, 0) == outcome_of(KEY)


def test_a_refused_batch_leaves_nothing_behind(tmp_path: Path) -> None:
    plan = plan_with()
    write(tmp_path, plan, [Finished(KEY, 0, outcome_of(KEY))])
    fresh = replace(KEY, trial_index=1)
    batch = [
        Finished(fresh, 0, outcome_of(fresh)),
        Finished(KEY, 0, outcome_of(KEY, Verdict.MISSED)),
    ]
    with pytest.raises(JournalError):
        write(tmp_path, plan, batch)
    with JournalReader(tmp_path) as reader:
        assert [row.key for row in reader.rows()] == [KEY]


def test_failures_are_kept_unless_asked_to_be_retried(tmp_path: Path) -> None:
    plan = plan_with()
    write(tmp_path, plan, [Finished(KEY, 0, outcome_of(KEY, Verdict.FAILED))])
    with JournalReader(tmp_path) as reader:
        place = reader.series_place(0, 0, SENT, -20.0)
        assert reader.indexes(place, range(4)) == {0}
        assert reader.indexes(place, range(4), retry_before_run=2) == set()
    with pytest.raises(JournalError):
        write(tmp_path, plan, [Finished(KEY, 0, outcome_of(KEY))])
    write(tmp_path, plan, [Finished(KEY, 0, outcome_of(KEY))], retry_failed=True)
    with JournalReader(tmp_path) as reader:
        assert reader.outcome(KEY, 0).verdict is Verdict.DECODED


def test_a_failure_retried_in_this_run_stands(tmp_path: Path) -> None:
    plan = plan_with()
    with JournalWriter(tmp_path, plan, ENVIRONMENT, retry_failed=True) as writer:
        writer.append([Finished(KEY, 0, outcome_of(KEY, Verdict.FAILED))])
        with pytest.raises(JournalError):
            writer.append([Finished(KEY, 0, outcome_of(KEY))])


@pytest.mark.parametrize(
    "changes",
    [
        {"title": "Another title", "notes": "More"},
        {"axis": {"start": -24.0, "stop": -16.0, "step": 2.0}},
        {"stop": {"trials_per_point": 100, "nothing_sent": 2}},
        {"stop": {"threshold_half_width_db": 0.3, "nothing_sent": 2}},
        {
            "conditions": [
                {"name": "new", "sending": {"audio_hz": 900.0}, "impairments": [noise()]},
                {"name": "renamed", "impairments": [noise()]},
                {"name": "low", "sending": {"audio_hz": 700.0}, "impairments": [noise()]},
            ]
        },
        {
            "receivers": [
                {"kind": "python", "name": "mine", "load": "mine:listen"},
                {"kind": "builtin", "name": "renamed"},
            ]
        },
    ],
    ids=["title", "axis values", "more trials", "stop rule", "condition", "receiver"],
)
def test_a_changed_plan_finds_its_old_rows(tmp_path: Path, changes: dict[str, object]) -> None:
    write(tmp_path, plan_with(), finished(plan_with()))
    changed = plan_with(**changes)
    write(tmp_path, changed, [])
    names = [condition.name for condition in changed.conditions]
    condition = names.index("renamed") if "renamed" in names else 0
    receiver = [receiver.kind for receiver in changed.receivers].index("builtin")
    with JournalReader(tmp_path) as reader:
        assert reader.plan == changed
        assert reader.tally(condition, receiver, -20.0) == Tally(2, 2)
        assert reader.outcome(replace(KEY, condition=condition), receiver).right is not None


def test_fewer_trials_asked_for_are_fewer_counted(tmp_path: Path) -> None:
    write(tmp_path, plan_with(), finished(plan_with()))
    write(tmp_path, plan_with(stop={"trials_per_point": 3, "nothing_sent": 1}), [])
    with JournalReader(tmp_path) as reader:
        assert reader.tally(0, 0, -20.0) == Tally(2, 1)
        assert reader.false_decodes(0, 0).nothing_sent.n_scored == 1


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"root_seed": 8}, "root_seed is 7, the plan's is 8"),
        ({"audio": {"sample_rate_hz": 24_000}}, "none of its conditions"),
    ],
)
def test_another_plan_is_refused(tmp_path: Path, changes: dict[str, object], reason: str) -> None:
    write(tmp_path, plan_with(), finished(plan_with()))
    with pytest.raises(JournalError, match=reason):
        write(tmp_path, plan_with(**changes), [])
    with JournalReader(tmp_path) as reader:
        assert reader.plan == plan_with()


def test_a_journal_without_outcomes_takes_any_plan(tmp_path: Path) -> None:
    write(tmp_path, plan_with(), [])
    write(tmp_path, plan_with(root_seed=8), [])
    with JournalReader(tmp_path) as reader:
        assert reader.plan.root_seed == 8
        assert [run.n_outcomes for run in reader.runs()] == [0, 0]


def test_runs_are_remembered(tmp_path: Path) -> None:
    with JournalWriter(tmp_path, plan_with(), ENVIRONMENT) as writer:
        writer.append([Finished(KEY, 0, outcome_of(KEY))])
        assert writer.run == 1
        writer.settle()
    with JournalReader(tmp_path) as reader:
        (run,) = reader.runs()
    assert (run.number, run.n_outcomes) == (1, 1)
    assert run.environment["libraries"] == {"numpy": "2"}
    assert run.settled_utc is not None


def test_a_second_writer_is_refused_and_told_who_writes(tmp_path: Path) -> None:
    with JournalWriter(tmp_path, plan_with(), ENVIRONMENT):
        with pytest.raises(JournalError, match=f"process {os.getpid()}"):
            JournalWriter(tmp_path, plan_with(), ENVIRONMENT)
        with JournalReader(tmp_path) as reader:
            assert reader.plan == plan_with()
    JournalWriter(tmp_path, plan_with(), ENVIRONMENT).close()


def test_the_lock_goes_with_its_process(tmp_path: Path) -> None:
    code = (
        "import os, sys; from pathlib import Path; "
        "from solidcopy.campaigns.journal.lock import WriterLock; "
        "lock = WriterLock(Path(sys.argv[1])); os._exit(9)"
    )
    assert subprocess.run([sys.executable, "-c", code, tmp_path], check=False).returncode == 9
    JournalWriter(tmp_path, plan_with(), ENVIRONMENT).close()


def test_a_reader_sees_each_batch_of_a_running_writer(tmp_path: Path) -> None:
    with (
        JournalWriter(tmp_path, plan_with(), ENVIRONMENT) as writer,
        JournalReader(tmp_path) as reader,
    ):
        assert reader.tally(0, 0, -20.0) == Tally()
        writer.append([Finished(KEY, 0, outcome_of(KEY))])
        assert reader.tally(0, 0, -20.0) == Tally(1)
        with reader.snapshot():
            assert reader.tally(0, 0, -20.0) == Tally(1)
            later = replace(KEY, trial_index=1)
            writer.append([Finished(later, 0, outcome_of(later))])
            assert reader.tally(0, 0, -20.0) == Tally(1)
        assert reader.tally(0, 0, -20.0) == Tally(1, 1)


def _foreign_database(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE shopping (item TEXT)")
    connection.close()


def _newer_format(path: Path) -> None:
    JournalWriter(path.parent, plan_with(), ENVIRONMENT).close()
    with sqlite3.connect(path) as connection:
        connection.execute(f"PRAGMA user_version = {FORMAT_VERSION + 1}")
    connection.close()


def _torn_pages(path: Path) -> None:
    write(path.parent, plan_with(), finished(plan_with()))
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    path.write_bytes(content)


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (lambda path: path.write_bytes(b"RIFF" + bytes(5000)), "damaged or no journal"),
        (_foreign_database, "database of another program"),
        (_newer_format, f"journal format {FORMAT_VERSION + 1}"),
        (_torn_pages, "damaged or no journal"),
    ],
    ids=["no database", "foreign", "newer", "torn"],
)
def test_a_damaged_or_foreign_file_is_named(
    tmp_path: Path, damage: Callable[[Path], object], said: str
) -> None:
    damage(tmp_path / "journal.sqlite")
    with pytest.raises(JournalError, match=said), JournalReader(tmp_path) as reader:
        reader.points(0, 0)
    with pytest.raises(JournalError, match=said):
        write(tmp_path, plan_with(), finished(plan_with()))


def test_no_journal_and_an_empty_one_are_told_apart_from_damage(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="there is no journal"):
        JournalReader(tmp_path)
    (tmp_path / "journal.sqlite").touch()
    with pytest.raises(JournalError, match="holds no campaign yet"):
        JournalReader(tmp_path)
    write(tmp_path, plan_with(), [])  # a making that was cut off is simply done again


@contextmanager
def as_nobody() -> Iterator[None]:
    """Without the right to write where others may not: that of an ordinary account."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_a_journal_can_be_read_from_a_read_only_folder() -> None:
    folder = Path(tempfile.mkdtemp())
    try:
        write(folder, plan_with(), finished(plan_with()))
        with JournalReader(folder) as reader:
            expected = reader.fingerprint()
        folder.chmod(0o555)
        with as_nobody():
            with pytest.raises(OSError):
                (folder / "new").touch()
            with JournalReader(folder) as reader:
                assert reader.fingerprint() == expected
    finally:
        folder.chmod(0o700)
        shutil.rmtree(folder)
