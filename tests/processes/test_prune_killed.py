"""Pruning that is killed at any moment leaves a whole journal, and can be done again."""

import contextlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from made_journal import curves_plan, with_trials, write_made_journal
from solidcopy.actions.prune import PruneWishes, prune
from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

N_KEPT, N_MADE = 20, 80


@pytest.mark.parametrize("n_kills", [3, pytest.param(40, marks=pytest.mark.sweep)])
def test_killed_at_any_moment(n_kills: int, tmp_path: Path) -> None:
    folder = write_made_journal(tmp_path / "c", curves_plan(N_MADE))
    plan = with_trials(curves_plan(N_MADE), N_KEPT)
    with JournalWriter(folder, plan, this_environment()):
        pass
    size = (folder / JOURNAL_FILE).stat().st_size
    with JournalReader(folder) as reader:
        fingerprint = reader.fingerprint()
    shutil.copytree(folder, tmp_path / "before")
    chance, n_left = random.Random(n_kills), []
    with subprocess.Popen(
        [sys.executable, Path(__file__).with_name("prune_script.py"), folder],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        for _ in range(n_kills):
            kill_one(process, after_s=chance.uniform(0.0, 0.25))
            n_left.append(checked(folder, fingerprint))
            shutil.copy(tmp_path / "before" / JOURNAL_FILE, folder / JOURNAL_FILE)
    print(f"{n_left.count(88 * N_MADE)} of {n_kills} killed before anything was dropped")
    assert set(n_left) <= {88 * N_KEPT, 88 * N_MADE}, "all or none of them dropped"
    prune(folder, PruneWishes(unasked=True))
    assert checked(folder, fingerprint) == 88 * N_KEPT
    assert (folder / JOURNAL_FILE).stat().st_size < 0.4 * size


def kill_one(process: subprocess.Popen[str], *, after_s: float) -> None:
    assert process.stdin is not None and process.stdout is not None
    process.stdin.write("next\n")
    process.stdin.flush()
    child = int(process.stdout.readline().split()[1])
    time.sleep(after_s)
    with contextlib.suppress(ProcessLookupError):
        os.kill(child, signal.SIGKILL)
    assert process.stdout.readline() == "ended\n"


def checked(folder: Path, fingerprint: str) -> int:
    """Outcomes left, after checking that the journal is whole."""
    with closing(sqlite3.connect(folder / JOURNAL_FILE)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with JournalReader(folder) as reader:
        assert reader.fingerprint() == fingerprint
        n_left = sum(run.n_outcomes for run in reader.runs())
        assert reader.scores(reader.series_place(0, 0, SENT, -20.0)).n == n_left // 88
    for beside in ("-wal", "-shm", "-journal"):
        (folder / f"{JOURNAL_FILE}{beside}").unlink(missing_ok=True)
    return n_left
