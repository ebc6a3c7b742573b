"""A writer killed at any moment, again and again, leaves a whole journal."""

import contextlib
import os
import random
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from solidcopy.campaigns.journal import JournalReader
from solidcopy.statistics.tally import Tally
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

N_ROUNDS = 25


def test_kills_lose_nothing_that_was_acknowledged_and_halve_nothing(tmp_path: Path) -> None:
    script = Path(__file__).with_name("journal_script.py")
    moments = random.Random(8)
    n_acknowledged = 0
    with subprocess.Popen(
        [sys.executable, script, tmp_path, str(N_ROUNDS)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdin is not None and process.stdout is not None
        lines = iter(process.stdout)
        for _ in range(N_ROUNDS):
            process.stdin.write("next\n")
            process.stdin.flush()
            n_acknowledged = kill_one(lines, moments.randint(1, 60), n_acknowledged)
            n_kept = checked_length(tmp_path)
            assert n_acknowledged <= n_kept <= n_acknowledged + 1
    with JournalReader(tmp_path) as reader:
        assert len(reader.runs()) == N_ROUNDS


def kill_one(lines: Iterator[str], n_batches: int, n_acknowledged: int) -> int:
    """Kill the next child after some batches; the number of trials acknowledged by then."""
    child = None
    n_seen = 0
    for line in lines:
        if line.startswith("child"):
            child = int(line.split()[1])
        elif line.startswith("ended"):
            break
        else:
            n_acknowledged = int(line) + 1
            n_seen += 1
        if n_seen >= n_batches and child is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
    return n_acknowledged


def checked_length(folder: Path) -> int:
    """Trials in the journal, after checking that all of them are whole."""
    with contextlib.closing(sqlite3.connect(folder / "journal.sqlite")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with JournalReader(folder) as reader:
        n_kept = reader.n_counted(0, 0, -23.0)
        assert sum(run.n_outcomes for run in reader.runs()) == 2 * n_kept
        for receiver in (0, 1):
            assert reader.tally_of_first(reader.series_place(0, receiver, SENT, -23.0), 10**6) == (
                Tally(n_missed=n_kept)
            )
            rows = [row.outcome.digest for row in reader.rows() if row.receiver == receiver]
            assert rows == [f"{index:064x}" for index in range(n_kept)]
    return n_kept
