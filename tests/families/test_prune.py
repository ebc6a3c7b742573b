"""Pruning makes a campaign smaller and leaves what its plan asks for as it was."""

import json
import os
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from journal_samples import ENVIRONMENT, finished, plan_with
from test_merge import said_by
from typer.testing import CliRunner

from old_format import as_format_1
from solidcopy.actions.prune import PruneWishes, prune
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.journal.schema import open_for_reading
from solidcopy.cli.main import app
from solidcopy.errors import JournalError
from solidcopy.trials.plan import Plan

pytestmark = pytest.mark.derived

STOP = {"trials_per_point": 40, "nothing_sent": 10}
PLAN = plan_with(stop=STOP)


def campaign(folder: Path, *plans: Plan) -> Path:
    """Carried out by one plan after another; the last one is the campaign's."""
    for plan in plans:
        with JournalWriter(folder, plan, ENVIRONMENT) as writer:
            writer.append(finished(plan))
    return folder


def n_rows(folder: Path) -> dict[str, int]:
    with closing(open_for_reading(folder / "journal.sqlite")) as connection:
        return {
            table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("outcome", "recording", "stretch")
        }


def test_nothing_goes_without_being_asked_for(tmp_path: Path) -> None:
    folder = campaign(tmp_path / "c", PLAN, plan_with(stop={**STOP, "trials_per_point": 9}))
    (folder / "report").mkdir()
    (folder / "report" / "report.html").write_text("a page")
    (folder / "kept-figures.json").write_text("{}")
    (folder / "notes of mine").write_text("keep")
    young, old = folder / ".packing-abcdefgh", folder / ".packing-abcdefg_"
    for left in (young, old):
        left.mkdir()
        (left / "part").write_bytes(bytes(50_000))
    long_ago_s = time.time() - 25 * 3600
    os.utime(old, (long_ago_s, long_ago_s))
    before, rows = said_by(folder), n_rows(folder)
    pruned = prune(folder, PruneWishes())
    assert pruned.removed == (old.name,)
    assert pruned.n_bytes_before - pruned.n_bytes_after >= 50_000
    assert said_by(folder) == before and n_rows(folder) == rows
    assert young.exists() and (folder / "report" / "report.html").exists()
    kept = {"journal.sqlite", "journal.lock", "report", "kept-figures.json", "notes of mine"}
    assert {path.name for path in folder.iterdir()} == {*kept, young.name}


@pytest.mark.parametrize(
    "changes",
    [
        {"stop": {"trials_per_point": 29, "nothing_sent": 4}},
        {"stop": STOP, "axis": {"values": [-22.0, -20.0]}},
        {"stop": STOP, "receivers": [{"kind": "builtin", "name": "ours"}]},
        {"stop": STOP, "conditions": [PLAN.conditions[0].model_dump(mode="json")]},
    ],
    ids=["fewer trials", "fewer values", "one receiver", "one condition"],
)
def test_what_the_plan_no_longer_asks_for_can_go(changes: dict[str, Any], tmp_path: Path) -> None:
    """What is left is what the last plan alone would have made."""
    last = plan_with(**changes)
    folder = campaign(tmp_path / "c", PLAN, last)
    alone = campaign(tmp_path / "alone", last)
    size = (folder / "journal.sqlite").stat().st_size
    with JournalReader(folder) as reader:
        fingerprint = reader.fingerprint()
    n_before = n_rows(folder)["outcome"]
    ended = CliRunner().invoke(app, ["prune", str(folder), "--unasked", "--json"])
    assert ended.exit_code == 0, ended.output
    told = json.loads(ended.output)
    assert told["n_dropped"] == n_before - n_rows(folder)["outcome"] > 0
    assert told["n_bytes_freed"] == size - (folder / "journal.sqlite").stat().st_size > 0
    assert n_rows(folder) == n_rows(alone)
    with JournalReader(folder) as reader, JournalReader(alone) as other:
        assert reader.fingerprint() == other.fingerprint() == fingerprint
        n_all = sum(run.n_outcomes for run in reader.runs())
        assert n_all == n_rows(folder)["outcome"]
        for condition in range(len(last.conditions)):
            for receiver in range(len(last.receivers)):
                curve = (condition, receiver)
                assert reader.tallies(*curve) == other.tallies(*curve)
                assert reader.false_decodes(*curve) == other.false_decodes(*curve)
    campaign(folder, last)  # can be gone on with: every row is there already


def test_what_can_be_made_anew_can_go(tmp_path: Path) -> None:
    folder = campaign(tmp_path / "c", PLAN)
    before = said_by(folder)
    (folder / "report").mkdir()
    (folder / "report" / "report.html").write_text("a page")
    (folder / "kept-figures.json").write_text("{}")
    pruned = prune(folder, PruneWishes(remade=True))
    assert pruned.removed == ("report", "kept-figures.json")
    assert "removed: report, kept-figures.json" in pruned.text()
    assert said_by(folder) == before


def test_a_campaign_that_runs_is_left_alone(tmp_path: Path) -> None:
    with JournalWriter(tmp_path / "c", PLAN, ENVIRONMENT) as writer:
        writer.append(finished(PLAN)[:5])
        before = n_rows(tmp_path / "c")
        with pytest.raises(JournalError, match=f"process {os.getpid()}"):
            prune(tmp_path / "c", PruneWishes(unasked=True, remade=True))
    assert n_rows(tmp_path / "c") == before


def test_one_that_is_read_meanwhile_is_pruned_all_the_same(tmp_path: Path) -> None:
    folder = campaign(tmp_path / "c", PLAN, plan_with(stop={**STOP, "trials_per_point": 9}))
    with JournalReader(folder) as reader:
        before = reader.fingerprint()
        prune(folder, PruneWishes(unasked=True))
        assert reader.fingerprint() == before
        assert reader.tally(0, 0, -20.0).n_decoded == 5


def test_an_earlier_format_is_brought_up_and_pruned(tmp_path: Path) -> None:
    folder = as_format_1(campaign(tmp_path / "c", PLAN))
    before = said_by(folder)
    assert prune(folder, PruneWishes(unasked=True)).n_dropped == 0
    assert said_by(folder) == before
