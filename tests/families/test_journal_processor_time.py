"""Processor time in a journal, and journals written before it was kept."""

import sqlite3
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from journal_samples import ENVIRONMENT, finished, outcome_of, plan_with

from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

KEY = TrialKey(0, SENT, -20.0, 0)
LATER = TrialKey(0, SENT, -20.0, 3)


@pytest.fixture
def old_journal(tmp_path: Path) -> Path:
    """A campaign folder as an earlier version left it: three trials of each point."""
    with JournalWriter(tmp_path, plan_with(), ENVIRONMENT) as writer:
        writer.append(finished(plan_with(), n=3))
    connection = sqlite3.connect(tmp_path / "journal.sqlite")
    connection.execute("ALTER TABLE outcome DROP COLUMN cpu_s")
    connection.commit()
    connection.close()
    return tmp_path


def test_an_old_journal_reads_with_the_time_unknown(old_journal: Path) -> None:
    with JournalReader(old_journal) as reader:
        assert reader.outcome(KEY, 0) == replace(outcome_of(KEY), cpu_s=None)
        assert reader.points(0, 0).n_scored.tolist() == [3, 3, 3]
        assert {row.outcome.cpu_s for row in reader.rows()} == {None}


def test_an_old_journal_goes_on_and_keeps_the_time_of_new_outcomes(old_journal: Path) -> None:
    with JournalReader(old_journal) as reader:
        before = reader.fingerprint()
    with JournalWriter(old_journal, plan_with(), ENVIRONMENT) as writer:
        with JournalReader(old_journal) as reader:
            assert reader.fingerprint() == before
        writer.append([Finished(LATER, 0, outcome_of(LATER))])
    with JournalReader(old_journal) as reader:
        assert reader.outcome(KEY, 0).cpu_s is None
        assert reader.outcome(LATER, 0).cpu_s == 0.125


def test_the_time_has_no_part_in_the_fingerprint(tmp_path: Path) -> None:
    prints = set()
    for cpu_s in (0.1, 0.2, None):
        folder = tmp_path / str(cpu_s)
        rows = [
            replace(row, outcome=replace(row.outcome, cpu_s=cpu_s)) for row in finished(plan_with())
        ]
        with JournalWriter(folder, plan_with(), ENVIRONMENT) as writer:
            writer.append(rows)
        with JournalReader(folder) as reader:
            prints.add(reader.fingerprint())
    assert len(prints) == 1


def test_answers_come_as_columns_by_trial_index(tmp_path: Path) -> None:
    verdicts = [Verdict.DECODED, Verdict.MISSED, Verdict.FAILED, Verdict.MISSED]
    rows = []
    for index, verdict in enumerate(verdicts):
        key = TrialKey(0, SENT, -20.0, index)
        rows.append(Finished(key, 0, outcome_of(key, verdict, n_false=index)))
    rows[3] = replace(rows[3], outcome=replace(rows[3].outcome, cpu_s=None))
    with JournalWriter(tmp_path, plan_with(), ENVIRONMENT) as writer:
        writer.append(reversed(rows))
    with JournalReader(tmp_path) as reader:
        answers = reader.answers(reader.series_place(0, 0, SENT, -20.0), 4)
    assert answers.decoded.tolist() == [True, False, False, False]
    assert answers.failed.tolist() == [False, False, True, False]
    assert answers.has_false.tolist() == [False, True, False, True]  # a failure has none
    assert np.isfinite(answers.cpu_s).tolist() == [True, True, True, False]
    assert answers.reported_snr_db[0] == -19.0
    assert np.isnan(answers.reported_snr_db[1:]).all()
    assert answers.first(2).n == 2
