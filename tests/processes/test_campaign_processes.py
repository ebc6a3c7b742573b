"""Campaigns on real worker processes that are counted, interrupted and killed.

What is expected follows from one undisturbed run with a single worker: everything else must end
with the same outcomes, row for row.
"""

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import zlib
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import psutil
import pytest
from campaign_samples import (
    N_OUTCOMES,
    PLAN,
    RECEIVERS_FOLDER,
    plan_with,
    python_receiver,
)
from distributed import LocalCluster

from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.local_crew import local_crew
from solidcopy.campaigns.progress import Progress
from solidcopy.campaigns.reference import Reference
from solidcopy.campaigns.remote_crew import Cluster, remote_crew
from solidcopy.campaigns.workers import Batch
from solidcopy.errors import JournalError, PlanError, WorkersError
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

PATIENCE_S = 180.0
"""Only a hang lasts so long; on a busy machine the steps below may take many seconds."""


def carry_out(
    plan: Plan,
    folder: Path,
    n_workers: int,
    *,
    on_step: Callable[[Progress], None] | None = None,
    import_folder: Path = RECEIVERS_FOLDER,
) -> list[Progress]:
    settings = EngineSettings(n_workers=n_workers, import_folders=(import_folder,))
    seen = []
    with closing(run_campaign(plan, folder, settings=settings)) as steps:
        for progress in steps:
            seen.append(progress)
            if on_step is not None:
                on_step(progress)
    return seen


def fingerprint(folder: Path) -> str:
    with JournalReader(folder) as reader:
        assert sum(1 for _ in reader.rows()) == N_OUTCOMES
        return reader.fingerprint()


def n_written(folder: Path) -> int:
    """Outcomes in a journal that another process writes; 0 before it is made."""
    try:
        with JournalReader(folder) as reader:
            return sum(run.n_outcomes for run in reader.runs())
    except JournalError:
        return 0


def children_of(pid: int) -> list[int]:
    """Process ids of all living children and theirs."""
    return [child.pid for child in psutil.Process(pid).children(recursive=True)]


def worker_processes() -> list[int]:
    """Process ids of this process's workers."""
    return [pid for pid in children_of(os.getpid()) if "--multiprocessing-fork" in words_of(pid)]


def words_of(pid: int) -> list[str]:
    """Its command line; empty once it has ended."""
    try:
        return psutil.Process(pid).cmdline()
    except psutil.NoSuchProcess:
        return []


def is_running(pid: int) -> bool:
    """Neither gone nor only waiting to be collected."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def wait_until(is_so: Callable[[], bool], what: str) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < deadline, f"still not so: {what}"
        time.sleep(0.05)


def started_campaign(folder: Path, n_workers: int) -> "subprocess.Popen[str]":
    """A campaign in a process group of its own, with at least 5 outcomes in its journal."""
    script = Path(__file__).with_name("campaign_script.py")
    process = subprocess.Popen(
        [sys.executable, script, folder, str(n_workers)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    wait_until(lambda: n_written(folder) >= 5 or process.poll() is not None, "5 outcomes")
    assert process.poll() is None, "it ended before it could be disturbed"
    return process


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Fingerprint of an undisturbed run with one worker."""
    folder = tmp_path_factory.mktemp("campaigns") / "calm"
    seen = carry_out(PLAN, folder, 1)
    assert (seen[-1].n_done, seen[-1].n_failed) == (N_OUTCOMES, 0)
    assert not (folder / "workers").exists()
    return fingerprint(folder)


@pytest.mark.parametrize("n_workers", [2, 4])
def test_the_number_of_workers_does_not_matter(tmp_path: Path, calm: str, n_workers: int) -> None:
    carry_out(PLAN, tmp_path, n_workers)
    assert fingerprint(tmp_path) == calm
    with JournalReader(tmp_path) as reader:
        points = reader.points(0, 0)
        assert points.n_decoded[0] < points.n_decoded[-1]  # the receiver did hear something
        key = TrialKey(0, SENT, -21.0, 5)
        recording, _ = make(trial_of(PLAN, key))
        assert reader.outcome(key, 0).digest == recording.digest


def test_a_killed_worker_costs_nothing(tmp_path: Path, calm: str) -> None:
    killed: list[int] = []

    def kill_all_once(progress: Progress) -> None:
        if progress.n_done >= 5 and not killed:
            killed.extend(worker_processes())
            for pid in killed:
                os.kill(pid, signal.SIGKILL)

    seen = carry_out(PLAN, tmp_path, 2, on_step=kill_all_once)
    assert len(killed) == 2
    assert seen[-1].n_failed == 0
    assert fingerprint(tmp_path) == calm


def test_a_closed_run_goes_on_later(tmp_path: Path, calm: str) -> None:
    settings = EngineSettings(n_workers=2, import_folders=(RECEIVERS_FOLDER,))
    with closing(run_campaign(PLAN, tmp_path, settings=settings)) as steps:
        for progress in steps:
            if progress.n_done >= 5:
                break
    assert 5 <= n_written(tmp_path) < N_OUTCOMES
    carry_out(PLAN, tmp_path, 2)
    assert fingerprint(tmp_path) == calm


def test_a_killed_run_leaves_no_worker_and_goes_on(tmp_path: Path, calm: str) -> None:
    process = started_campaign(tmp_path, 2)
    family = children_of(process.pid)
    assert len(family) >= 3
    process.kill()
    process.communicate()
    wait_until(lambda: not any(map(is_running, family)), "the workers have ended by themselves")
    with sqlite3.connect(tmp_path / "journal.sqlite") as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    n_kept = n_written(tmp_path)
    assert n_kept >= 5
    seen = carry_out(PLAN, tmp_path, 2)
    assert seen[0].n_done == n_kept
    assert fingerprint(tmp_path) == calm


def test_ctrl_c_ends_everything_at_once_and_in_order(tmp_path: Path) -> None:
    process = started_campaign(tmp_path, 2)
    family = children_of(process.pid)
    start = time.monotonic()
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: to the workers as well
    output, _ = process.communicate(timeout=PATIENCE_S)
    # About one second when the machine is idle; the bound allows for a busy one.
    assert time.monotonic() - start < 20.0
    assert process.returncode == 130
    assert "Traceback" not in output
    assert "Error" not in output
    wait_until(lambda: not any(map(is_running, family)), "the workers have ended")
    assert {path.name for path in tmp_path.iterdir()} == {"journal.sqlite", "journal.lock"}
    assert n_written(tmp_path) >= 5


def test_bad_receivers_cost_their_own_trials_only(tmp_path: Path) -> None:
    plan = plan_with(
        stop={"trials_per_point": 3, "nothing_sent": 0},
        receivers=[
            {"kind": "builtin", "name": "ours", "effort": "belief-propagation"},
            python_receiver("crashing"),
            python_receiver("throwing"),
            python_receiver("hanging", time_limit_s=1.0),
            python_receiver("murderous"),
        ],
    )
    bad = TrialKey(0, SENT, -19.0, 1)
    receivers = shutil.copytree(RECEIVERS_FOLDER, tmp_path / "receivers")
    samples = make(trial_of(plan, bad))[0].waveform.samples
    (receivers / "bad_slots.json").write_text(json.dumps([zlib.crc32(samples.tobytes())]))
    carry_out(plan, tmp_path / "campaign", 2, import_folder=receivers)
    with JournalReader(tmp_path / "campaign") as reader:
        rows = list(reader.rows())
        assert reader.points(0, 0).n_decoded[-1] > 0
    assert len(rows) == 5 * 3 * 3
    failed = [row for row in rows if row.outcome.verdict is Verdict.FAILED]
    assert {row.key for row in failed} == {bad}
    said = {row.receiver_name: str(row.outcome.failure) for row in failed}
    assert "in throwing: IndexError: index 180000 is out of bounds" in said.pop("throwing")
    assert said == {
        "crashing": "the receiver's process was ended by SIGSEGV",
        "hanging": "no answer within 1 s",
        "murderous": "the worker process died 3 times in this trial",
    }


def test_a_receiver_that_cannot_be_loaded_ends_the_campaign(tmp_path: Path) -> None:
    plan = plan_with(receivers=[python_receiver("no_such_receiver")])
    with pytest.raises(PlanError, match="process_receivers:no_such_receiver cannot be loaded"):
        carry_out(plan, tmp_path, 1)
    assert n_written(tmp_path) == 0


def test_workers_of_another_scheduler_give_the_same_outcomes(tmp_path: Path, calm: str) -> None:
    with LocalCluster(
        n_workers=1, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0"
    ) as cluster:
        settings = EngineSettings(
            cluster=Cluster(cluster.scheduler_address), import_folders=(RECEIVERS_FOLDER,)
        )
        with closing(run_campaign(PLAN, tmp_path, settings=settings)) as steps:
            assert list(steps)[-1].is_finished
    assert fingerprint(tmp_path) == calm


def test_a_scheduler_that_does_not_answer_is_named() -> None:
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))  # not listening: connections are refused
        address = f"tcp://127.0.0.1:{unused.getsockname()[1]}"
        with (
            pytest.raises(WorkersError, match=f"scheduler {address}: does not answer"),
            remote_crew(Cluster(address), Reference(Batch("", ()), {}), answer_s=0.5),
        ):
            pass


def test_only_this_machine_can_reach_the_workers(tmp_path: Path) -> None:
    with local_crew(1, tmp_path) as crew:
        assert crew.n_workers == 1
        pids = [os.getpid(), *children_of(os.getpid())]
        addresses = [address for pid in pids for address in listening_addresses(pid)]
    assert len(addresses) >= 2
    assert {address.split(":")[0] for address in addresses} == {"0100007F"}  # 127.0.0.1


def listening_addresses(pid: int) -> list[str]:
    """Of the TCP sockets of a process, hexadecimal as Linux lists them."""
    own = set()
    for entry in Path(f"/proc/{pid}/fd").iterdir():
        try:
            target = os.readlink(entry)
        except OSError:
            continue
        own.add(target.removeprefix("socket:[").removesuffix("]"))
    found = []
    for table in ("tcp", "tcp6"):
        for line in Path(f"/proc/{pid}/net/{table}").read_text(encoding="ascii").splitlines()[1:]:
            fields = line.split()
            if fields[3] == "0A" and fields[9] in own:
                found.append(fields[1])
    return found
