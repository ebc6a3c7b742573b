"""What is kept beside the rows of a journal says what the rows say: after any order of work, after
failures that were retried, and in a journal that an earlier version wrote.
"""

import shutil
import tempfile
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_samples import ENVIRONMENT, finished, outcome_of, plan_with

from old_format import as_format_1
from solidcopy.campaigns.journal import (
    Finished,
    JournalReader,
    JournalWriter,
    queries,
    schema,
)
from solidcopy.campaigns.journal.scores import STRETCH_TRIALS, Scores, score_of
from solidcopy.campaigns.journal.tables import VERDICT_NUMBERS
from solidcopy.campaigns.progress import progress_of
from solidcopy.errors import JournalError
from solidcopy.reports.answer import answer
from solidcopy.reports.gather import gather
from solidcopy.statistics.tally import Tally
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import NOTHING_SENT, SENT

pytestmark = pytest.mark.derived

N = 2 * STRETCH_TRIALS + 5
"""Trials at a point: two whole stretches and a part of one."""
PLAN = plan_with(axis={"values": [-20.0, -18.0]}, stop={"trials_per_point": N, "nothing_sent": 3})

spots = st.tuples(
    st.integers(0, 1),
    st.integers(0, 1),
    st.sampled_from([(SENT, -20.0), (SENT, -18.0), (NOTHING_SENT, -18.0)]),
)
stretches = st.tuples(
    spots,
    st.integers(0, N),
    st.integers(1, N),
    st.lists(st.sampled_from(["even", "failed", "false"]), min_size=1, max_size=5),
)
"""A spot, the first trial, how many, and how they end, again and again."""


def written_by(stretch: Any) -> list[Finished]:
    (condition, receiver, (arm, value)), first, n, ends = stretch
    rows = []
    for index in range(first, min(first + n, N + 3)):
        key = TrialKey(condition, arm, value, index)
        end = ends[index % len(ends)]
        verdict = Verdict.FAILED if end == "failed" else None
        outcome = outcome_of(key, verdict, n_false=index % 3 if end == "false" else 0)
        rows.append(Finished(key, receiver, outcome))
    return rows


def said_by(folder: Path) -> dict[str, Any]:
    """All that is read from scores."""
    with JournalReader(folder) as reader:
        curves = list(product((0, 1), (0, 1)))
        pairs = [reader.paired(*two) for two in product(curves, curves)]
        return {
            "tallies": [reader.tallies(*curve) for curve in curves],
            "false decodes": [reader.false_decodes(*curve) for curve in curves],
            "counted": [
                reader.n_counted(*curve, value) for curve in curves for value in (-20, -18)
            ],
            "finished": [reader.is_finished(*curve) for curve in curves],
            "pairs": [
                [flags.tolist() for flags in (p.decoded_a, p.scored_a, p.decoded_b, p.scored_b)]
                for pair in pairs
                for p in pair.points
            ],
            "progress": progress_of(reader),
            "runs": [run.n_outcomes for run in reader.runs()],
            "version": reader.content_version(),
        }


@given(st.lists(stretches, max_size=6), st.booleans())
@settings(max_examples=12, deadline=None)
def test_scores_and_rows_say_the_same(lots: list[Any], is_retried: bool) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "kept"
        seen: dict[tuple[TrialKey, int], Finished] = {}
        for lot in lots:
            # A run of its own each, as failures of earlier runs only may be replaced.
            with JournalWriter(folder, PLAN, ENVIRONMENT, retry_failed=is_retried) as writer:
                rows = [row for row in written_by(lot) if fits(row, seen, is_retried)]
                writer.append(rows)
                seen |= {(row.key, row.receiver): row for row in rows}
        with JournalWriter(folder, PLAN, ENVIRONMENT):
            pass
        kept = said_by(folder)
        old = as_format_1(Path(shutil.copytree(folder, Path(name) / "old")))
        assert said_by(old) == kept
        with JournalWriter(old, PLAN, ENVIRONMENT):  # brings it to this format
            pass
        with_one_more_run = said_by(old)
        assert with_one_more_run.pop("version") != kept.pop("version")
        assert with_one_more_run.pop("runs") == [*kept.pop("runs"), 0]
        assert with_one_more_run == kept


def fits(row: Finished, seen: dict[tuple[TrialKey, int], Finished], is_retried: bool) -> bool:
    """Whether a journal takes the row: nothing else there, or a failure to be retried."""
    before = seen.get((row.key, row.receiver))
    if before is None or before.outcome.verdict is row.outcome.verdict:
        return before is None or before.outcome.verdict is not Verdict.FAILED or is_retried
    return is_retried and before.outcome.verdict is Verdict.FAILED


def test_an_old_journal_gives_the_same_report_facts(tmp_path: Path) -> None:
    plan = plan_with(stop={"trials_per_point": 40, "nothing_sent": 5})
    with JournalWriter(tmp_path / "kept", plan, ENVIRONMENT) as writer:
        writer.append(finished(plan))
    old = as_format_1(Path(shutil.copytree(tmp_path / "kept", tmp_path / "old")))
    with JournalReader(tmp_path / "kept") as a, JournalReader(old) as b:
        assert gather(a) == gather(b)
        assert answer(gather(a)).headline == answer(gather(b)).headline


def test_a_change_of_format_that_is_cut_off_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with JournalWriter(tmp_path, PLAN, ENVIRONMENT) as writer:
        writer.append(finished(PLAN))
    before = said_by(as_format_1(tmp_path))

    def cut_off(_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(schema, "fill_scores", cut_off)
        with pytest.raises(KeyboardInterrupt):
            JournalWriter(tmp_path, PLAN, ENVIRONMENT)
    assert said_by(tmp_path) == before
    with JournalWriter(tmp_path, PLAN, ENVIRONMENT):
        pass
    assert said_by(tmp_path)["tallies"] == before["tallies"]


def test_an_old_journal_is_read_where_nothing_can_be_written(tmp_path: Path) -> None:
    with JournalWriter(tmp_path / "here", PLAN, ENVIRONMENT) as writer:
        writer.append(finished(PLAN))
    before = said_by(as_format_1(tmp_path / "here"))
    (tmp_path / "here" / "journal.lock").unlink()
    (tmp_path / "here" / "journal.sqlite").chmod(0o444)
    (tmp_path / "here").chmod(0o555)
    try:
        content = (tmp_path / "here" / "journal.sqlite").read_bytes()
        assert said_by(tmp_path / "here") == before
        assert (tmp_path / "here" / "journal.sqlite").read_bytes() == content
    finally:
        (tmp_path / "here").chmod(0o755)


def test_a_refused_lot_leaves_no_scores(tmp_path: Path) -> None:
    key = TrialKey(0, SENT, -20.0, 0)
    with JournalWriter(tmp_path, PLAN, ENVIRONMENT) as writer:
        writer.append([Finished(key, 0, outcome_of(key))])
        before = said_by(tmp_path)
        later = TrialKey(0, SENT, -20.0, 1)
        with pytest.raises(JournalError):
            writer.append(
                [
                    Finished(later, 0, outcome_of(later)),
                    Finished(key, 0, outcome_of(key, Verdict.MISSED)),
                ]
            )
        assert said_by(tmp_path) == before


def test_scores_as_arrays() -> None:
    numbers = [
        score_of(VERDICT_NUMBERS[verdict], n_false)
        for verdict, n_false in (
            (Verdict.DECODED, 0),
            (Verdict.MISSED, 2),
            (Verdict.FAILED, 1),
            (Verdict.NOTHING_SENT, 70_000),
        )
    ]
    scores = Scores(np.array([*numbers, 0, numbers[0]], np.uint32))
    assert scores.is_decoded.tolist() == [True, False, False, False, False, True]
    assert scores.is_failed.tolist() == [False, False, True, False, False, False]
    assert scores.is_scored.tolist() == [True, True, False, True, False, True]
    assert scores.has_false.tolist() == [False, True, False, True, False, False]
    assert scores.n_false.tolist() == [0, 2, 1, 70_000, 0, 0]
    assert scores.n_without_gap(6) == 4
    assert scores.n_without_gap(3) == 3
    assert scores.first(4).tally() == Tally(1, 2, 1, 2, 70_002)
    assert scores.padded(8).is_there.tolist() == [True] * 4 + [False, True, False, False]


def test_a_retried_failure_is_counted_by_the_run_that_mended_it(tmp_path: Path) -> None:
    key = TrialKey(0, SENT, -20.0, 0)
    with JournalWriter(tmp_path, PLAN, ENVIRONMENT) as writer:
        writer.append([Finished(key, 0, outcome_of(key, Verdict.FAILED))])
    with JournalReader(tmp_path) as reader:
        before = reader.content_version()
        assert reader.tally_of_first(reader.series_place(0, 0, SENT, -20.0), 9) == Tally(n_failed=1)
    with JournalWriter(tmp_path, PLAN, ENVIRONMENT, retry_failed=True) as writer:
        writer.append([Finished(key, 0, outcome_of(key))])
    with JournalReader(tmp_path) as reader:
        assert reader.content_version() != before
        assert [run.n_outcomes for run in reader.runs()] == [0, 1]
        assert reader.tally_of_first(reader.series_place(0, 0, SENT, -20.0), 9) == Tally(1)


def test_reasons_of_failures_are_found_by_their_trials(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted by hand; more failures than one question takes."""
    monkeypatch.setattr(queries, "MOST_KEYS", 7)
    ends = [None, Verdict.FAILED, None, Verdict.FAILED, Verdict.FAILED]
    keys = [TrialKey(0, SENT, -20.0, index) for index in range(N)]
    rows = [Finished(key, 0, outcome_of(key, ends[key.trial_index % 5])) for key in keys]
    rows[4] = replace(rows[4], outcome=replace(rows[4].outcome, failure="OSError: gone"))
    rows[6] = replace(rows[6], outcome=replace(rows[6].outcome, failure=None))
    with JournalWriter(tmp_path, PLAN, ENVIRONMENT) as writer:
        writer.append(rows)
    n_failed = sum(row.outcome.verdict is Verdict.FAILED for row in rows)
    with JournalReader(tmp_path) as reader:
        told = reader.failures(0, 0)
    assert told == {"ValueError: no": n_failed - 2, "OSError: gone": 1, "": 1}
