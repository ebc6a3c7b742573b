"""A command in a process of its own: one at a time, told by its files, whoever looks."""

import os
import signal
import time

import pytest

from packed_campaigns import pump_campaign
from solidcopy.actions.background_job import JOBS, job_state, start_job, stop_job
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal.lock import holder
from solidcopy.errors import JournalError

WAIT_S = 60.0


@pytest.fixture
def space(tmp_path):
    return Workspace.at(tmp_path / "bench")


def ended(space, kind, name):
    end_s = time.monotonic() + WAIT_S
    while (state := job_state(space, kind, name)).is_running:
        assert time.monotonic() < end_s
        time.sleep(0.1)
    return state


def test_a_job_that_was_never_started(space):
    state = job_state(space, "report", "pump")
    assert (state.is_running, state.exit_code, state.failure) == (False, None, "")
    assert stop_job(space, "report", "pump") is False


def test_what_a_command_prints_and_how_it_ends(space, tmp_path):
    start_job(space, "status", "pump", ["status", str(pump_campaign()), "--json"])
    good = ended(space, "status", "pump")
    assert good.is_done
    assert '"n_done": 10' in good.printed
    start_job(space, "status", "pump", ["status", str(tmp_path / "nowhere")])
    bad = ended(space, "status", "pump")
    assert bad.exit_code == JournalError.exit_code
    assert "no campaign was begun there" in bad.failure
    assert not bad.failure.startswith("solidcopy")


def test_one_at_a_time_and_a_killed_one_says_so(space):
    words = ["web", str(space.folder / "inner"), "--port", "0"]  # it runs until it is stopped
    start_job(space, "long", "pump", words)
    assert job_state(space, "long", "pump").is_running
    with pytest.raises(JournalError, match="being done already"):
        start_job(space, "long", "pump", words)
    os.kill(holder(space.folder / JOBS / "long-pump"), signal.SIGKILL)
    assert "broken off" in ended(space, "long", "pump").failure
    start_job(space, "long", "pump", words)
    assert stop_job(space, "long", "pump") is True
    assert not job_state(space, "long", "pump").is_running
