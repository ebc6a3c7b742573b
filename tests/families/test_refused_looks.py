"""What a journal keeps of looks at a curve's precision spares work and changes no decision."""

import sqlite3
from contextlib import closing
from itertools import product
from pathlib import Path

import pytest
from journal_samples import ENVIRONMENT, outcome_of, plan_with

from made_journal import curves_plan, write_made_journal
from old_format import as_format_1
from solidcopy.campaigns import stop
from solidcopy.campaigns.engine import run_campaign
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.campaigns.stop import Asked
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived


def asked_by(folder: Path) -> dict[tuple[int, int], Asked]:
    with JournalReader(folder) as reader:
        curves = product(range(len(reader.plan.conditions)), range(len(reader.plan.receivers)))
        return {curve: reader.asked(*curve) for curve in curves}


def forget(folder: Path) -> None:
    with closing(sqlite3.connect(folder / "journal.sqlite", isolation_level=None)) as connection:
        connection.execute("DELETE FROM refused")


def keep(folder: Path) -> None:
    with JournalReader(folder) as reader:
        plan = reader.plan
    with JournalWriter(folder, plan, ENVIRONMENT) as writer, JournalReader(folder) as reader:
        writer.keep_refused(reader.refused())


@pytest.mark.parametrize("half_width_db", [2.0, 0.4, 0.15, 0.001])
def test_decisions_are_the_same_with_and_without(tmp_path: Path, half_width_db: float) -> None:
    write_made_journal(tmp_path, curves_plan(260, threshold_half_width_db=half_width_db))
    kept = asked_by(tmp_path)
    forget(tmp_path)
    assert asked_by(tmp_path) == kept
    assert asked_by(as_format_1(tmp_path)) == kept


def test_looks_that_were_refused_are_not_fitted_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_made_journal(tmp_path, curves_plan(260, threshold_half_width_db=0.001))
    fitted: list[int] = []

    def is_precise(*_: object) -> bool:
        fitted.append(1)
        return False

    monkeypatch.setattr(stop, "is_precise", is_precise)
    asked_by(tmp_path)
    n_with = len(fitted)
    forget(tmp_path)
    asked_by(tmp_path)
    # 50, 100, ... 250, 260: with what is kept, the last look only.
    assert (n_with, len(fitted) - n_with) == (8, 8 * 6)


def test_a_retried_failure_makes_all_looks_new(tmp_path: Path) -> None:
    plan = plan_with(stop={"threshold_half_width_db": 0.9, "at_most": 200, "nothing_sent": 0})
    keys = [TrialKey(0, SENT, value, index) for value in plan.axis.points() for index in range(200)]
    failed = Verdict.FAILED

    def verdict(key: TrialKey) -> Verdict:
        return Verdict.DECODED if key.axis_value > -20.0 else Verdict.MISSED

    with JournalWriter(tmp_path, plan, ENVIRONMENT) as writer:
        writer.append(
            Finished(key, 0, outcome_of(key, failed if key.axis_value == -20.0 else verdict(key)))
            for key in keys
        )
    keep(tmp_path)
    with JournalWriter(tmp_path, plan, ENVIRONMENT, retry_failed=True) as writer:
        writer.append(Finished(key, 0, outcome_of(key)) for key in keys if key.axis_value == -20.0)
    after = asked_by(tmp_path)
    forget(tmp_path)
    assert asked_by(tmp_path) == after
    assert after[0, 0].n_at[-20.0] < 200


def test_a_run_that_finds_nothing_to_do_keeps_them(tmp_path: Path) -> None:
    plan = curves_plan(60, threshold_half_width_db=0.001)
    write_made_journal(tmp_path, plan)
    forget(tmp_path)
    list(run_campaign(plan, tmp_path))
    with closing(sqlite3.connect(tmp_path / "journal.sqlite")) as connection:
        assert connection.execute("SELECT n FROM refused").fetchall() == [(50,)] * 8
