"""Long work on a journal that is killed at any moment leaves it whole, and can be done again."""

import contextlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from made_journal import curves_plan, with_trials, write_made_journal
from old_format import as_format_1
from solidcopy.actions.prune import PruneWishes, prune
from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.journal.schema import (
    FORMAT_VERSION,
    JOURNAL_FILE,
    close_writing,
    open_for_writing,
)
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

N_KEPT, N_MADE = 20, 80
MOST_S = {"prune": 0.25, "bring-up": 0.1}
"""About as long as it takes."""


Workers = subprocess.Popen[str]


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    """Makes a child for each line that it is told."""
    with subprocess.Popen(
        [sys.executable, Path(__file__).with_name("journal_work_script.py")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        yield process


HOW_OFTEN = [3, pytest.param(40, marks=pytest.mark.sweep)]


@pytest.mark.parametrize("n_kills", HOW_OFTEN)
def test_pruning_drops_all_or_nothing(workers: Workers, n_kills: int, tmp_path: Path) -> None:
    folder = write_made_journal(tmp_path / "c", curves_plan(N_MADE))
    plan = with_trials(curves_plan(N_MADE), N_KEPT)
    with JournalWriter(folder, plan, this_environment()):
        pass
    size = (folder / JOURNAL_FILE).stat().st_size
    fingerprint = read_fingerprint(folder)
    n_left = [n for n, _ in killed(workers, "prune", folder, n_kills)]
    print(f"{n_left.count(88 * N_MADE)} of {n_kills} killed before anything was dropped")
    assert set(n_left) <= {88 * N_KEPT, 88 * N_MADE}
    prune(folder, PruneWishes(unasked=True))
    assert checked(folder, fingerprint)[0] == 88 * N_KEPT
    assert (folder / JOURNAL_FILE).stat().st_size < 0.4 * size


@pytest.mark.parametrize("n_kills", HOW_OFTEN)
def test_a_change_of_format_is_whole_or_not_at_all(
    workers: Workers, n_kills: int, tmp_path: Path
) -> None:
    folder = as_format_1(write_made_journal(tmp_path / "c", curves_plan(N_MADE)))
    fingerprint = read_fingerprint(folder)
    found = killed(workers, "bring-up", folder, n_kills)
    assert {n for n, _ in found} == {88 * N_MADE}
    formats = [version for _, version in found]
    print(f"{formats.count(1)} of {n_kills} killed before the format was changed")
    assert set(formats) <= {1, FORMAT_VERSION}
    close_writing(open_for_writing(folder / JOURNAL_FILE))
    assert checked(folder, fingerprint) == (88 * N_MADE, FORMAT_VERSION)


def read_fingerprint(folder: Path) -> str:
    with JournalReader(folder) as reader:
        return reader.fingerprint()


def killed(workers: Workers, work: str, folder: Path, n_kills: int) -> list[tuple[int, int]]:
    """What was left each time; each time the work begins with the journal as it is now."""
    fingerprint = read_fingerprint(folder)
    shutil.copytree(folder, folder.with_name("before"))
    chance, left = random.Random(n_kills), []
    for _ in range(n_kills):
        shutil.copy(folder.with_name("before") / JOURNAL_FILE, folder / JOURNAL_FILE)
        kill_one(workers, f"{work} {folder}", after_s=chance.uniform(0.0, MOST_S[work]))
        left.append(checked(folder, fingerprint))
    shutil.copy(folder.with_name("before") / JOURNAL_FILE, folder / JOURNAL_FILE)
    return left


def kill_one(process: Workers, work: str, *, after_s: float) -> None:
    assert process.stdin is not None and process.stdout is not None
    process.stdin.write(f"{work}\n")
    process.stdin.flush()
    child = int(process.stdout.readline().split()[1])
    time.sleep(after_s)
    with contextlib.suppress(ProcessLookupError):
        os.kill(child, signal.SIGKILL)
    assert process.stdout.readline() == "ended\n"


def checked(folder: Path, fingerprint: str) -> tuple[int, int]:
    """Outcomes left and format, after checking that the journal is whole."""
    with closing(sqlite3.connect(folder / JOURNAL_FILE)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        (version,) = connection.execute("PRAGMA user_version").fetchone()
    with JournalReader(folder) as reader:
        assert reader.fingerprint() == fingerprint
        n_left = sum(run.n_outcomes for run in reader.runs())
        assert reader.scores(reader.series_place(0, 0, SENT, -20.0)).n == n_left // 88
    for beside in ("-wal", "-shm", "-journal"):
        (folder / f"{JOURNAL_FILE}{beside}").unlink(missing_ok=True)
    return n_left, version
