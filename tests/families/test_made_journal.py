"""Journals made for benchmarks are those that the one writer would have written, and hold what is
known of them.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from made_journal import HERE, curves_plan, finished, map_plan, midpoint, width, write_made_journal
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.progress import progress_of
from solidcopy.campaigns.schedule import blocks, jobs_in_block, wanted_series
from solidcopy.reports.write import write_report
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

TABLES = ("curve", "receiver", "recording", "outcome", "stretch")


@pytest.mark.derived
@pytest.mark.parametrize("plan", [curves_plan(9, n_silent=4), map_plan(2)], ids=["curves", "map"])
def test_rows_in_bulk_are_those_of_the_writer(tmp_path: Path, plan: Plan) -> None:
    write_made_journal(tmp_path / "bulk", plan)
    with JournalWriter(tmp_path / "one by one", plan, HERE) as writer:
        writer.append(finished(plan))
        writer.settle()
    assert rows_of(tmp_path / "bulk") == rows_of(tmp_path / "one by one")
    with JournalReader(tmp_path / "bulk") as a, JournalReader(tmp_path / "one by one") as b:
        assert a.fingerprint() == b.fingerprint()
        assert a.runs()[0].n_outcomes == b.runs()[0].n_outcomes


def rows_of(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    with closing(sqlite3.connect(folder / "journal.sqlite")) as connection:
        return {table: connection.execute(f"SELECT * FROM {table} ").fetchall() for table in TABLES}


@pytest.mark.derived
def test_a_made_journal_can_be_reported_and_gone_on_with(tmp_path: Path) -> None:
    plan = curves_plan(12, n_conditions=2, n_silent=2)
    write_made_journal(tmp_path, plan)
    report = write_report(tmp_path, tmp_path / "report")
    assert report.facts.extent.is_finished
    longer = curves_plan(14, n_conditions=2, n_silent=2)
    with JournalWriter(tmp_path, longer, HERE), JournalReader(tmp_path) as reader:
        state = progress_of(reader)
        assert (state.n_done, state.n_planned) == (44 * 12 + 8, 44 * 14 + 8)
        wanted = wanted_series(reader)
        jobs = [job for block in blocks(wanted) for job in jobs_in_block(reader, wanted, block)]
    assert {job.key.trial_index for job in jobs} == {12, 13}
    assert sum(len(job.receivers) for job in jobs) == 44 * 2


@pytest.mark.authority
def test_counts_follow_the_known_curve(tmp_path: Path) -> None:
    """Shares by scipy's normal distribution; 5 standard deviations of the binomial at most."""
    plan = curves_plan(1000)
    write_made_journal(tmp_path, plan)
    with JournalReader(tmp_path) as reader:
        for condition in range(len(plan.conditions)):
            for receiver in range(len(plan.receivers)):
                points = reader.points(condition, receiver)
                truth = stats.norm.cdf(
                    points.values, midpoint(plan, condition, receiver), width(plan)
                )
                spread = np.sqrt(truth * (1 - truth) / points.n_scored)
                assert (np.abs(points.share - truth) <= 5 * spread + 1e-3).all()
        assert reader.scores(reader.series_place(0, 0, SENT, -21.0)).n == 1000
