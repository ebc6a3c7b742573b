"""The power fails at any moment of a run: what is left opens, holds what was promised, goes on."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from journal_script import PLAN, outcome
from power_cut import DATABASE, INDEX, LogState, cut_power

from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

N_MORE = 5


@pytest.mark.parametrize("n_cuts", [5, pytest.param(50, marks=pytest.mark.sweep)])
def test_every_cut_opens_and_goes_on(n_cuts: int, tmp_path: Path) -> None:
    chance, folder, notes = random.Random(n_cuts), tmp_path / "run", tmp_path / "notes"
    told = []
    script = Path(__file__).with_name("power_script.py")
    with subprocess.Popen([sys.executable, script, folder, notes]) as process:
        try:
            wait_until_written(folder, notes, process)
            for number in range(n_cuts):
                time.sleep(chance.uniform(0.0, 0.1))
                if number % 3 == 0:
                    wait_until_moving(folder)
                stand_still(process.pid)
                cut = cut_power(folder, notes, tmp_path / f"cut-{number}", chance)
                os.kill(process.pid, signal.SIGCONT)
                told.append((tmp_path / f"cut-{number}", cut))
        finally:
            process.kill()
    for path, cut in told:
        print(f"{checked(path, cut.settled)} trials left; {cut}")
    assert any(cut.n_spoilt_in_log for _, cut in told)


def wait_until_written(folder: Path, notes: Path, process: subprocess.Popen[bytes]) -> None:
    end_s = time.monotonic() + 60
    while not (notes.exists() and notes.stat().st_size and (folder / INDEX).exists()):
        assert process.poll() is None and time.monotonic() < end_s
        time.sleep(0.01)


def wait_until_moving(folder: Path) -> None:
    """Until pages go from the log into the database: that takes a few milliseconds."""
    end_s = time.monotonic() + 1.0
    while time.monotonic() < end_s:
        state = LogState.read(folder)
        if state.n_moved < state.n_moving:
            return


def stand_still(pid: int) -> None:
    """Returns once the process does not run: no system call of it is half done."""
    os.kill(pid, signal.SIGSTOP)
    while Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "T":
        time.sleep(0.0005)


def checked(folder: Path, settled: int) -> int:
    """Trials that were left, after checking that they are whole and that the run goes on."""
    with JournalReader(folder) as reader:
        n_left = reader.n_counted(0, 0, -23.0)
    assert n_left > settled, "what was forced to disk is there"
    with JournalWriter(folder, PLAN, this_environment()) as writer:
        for index in range(n_left, n_left + N_MORE):
            key = TrialKey(0, SENT, -23.0, index)
            writer.append([Finished(key, receiver, outcome(index)) for receiver in (0, 1)])
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        for receiver in (1, 2):
            rows = connection.execute(
                "SELECT trial_index, hex(digest) FROM outcome JOIN recording "
                "USING (curve, arm, axis_value, trial_index) WHERE receiver = ? ORDER BY 1",
                (receiver,),
            ).fetchall()
            assert rows == [(index, f"{index:064X}") for index in range(n_left + N_MORE)]
    with JournalReader(folder) as reader:
        for receiver in (0, 1):
            tally = reader.tally(0, receiver, -23.0)
            assert tally.n_missed == n_left + N_MORE
        assert sum(run.n_outcomes for run in reader.runs()) == 2 * (n_left + N_MORE)
    return n_left
