"""What may go wrong with machines, one by one. Each must end with the outcomes of an undisturbed
run, row for row. Faults of this machine's own workers that are quick to show are in
`test_campaign_processes.py`.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from campaign_samples import RECEIVERS_FOLDER, plan_with, python_receiver
from cluster_processes import ClusterProcesses, end_group
from test_campaign_processes import children_of, n_written, wait_until, worker_processes

from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.local_crew import local_crew
from solidcopy.campaigns.progress import Progress
from solidcopy.campaigns.remote_crew import Cluster
from solidcopy.errors import JournalError, WorkersError
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

pytestmark = [pytest.mark.derived, pytest.mark.sweep]

FROZEN_S = 8.0
N_TRIALS = 120
LONG = plan_with(
    stop={"trials_per_point": N_TRIALS, "nothing_sent": 10},
    receivers=[{"kind": "builtin", "name": "ours", "effort": "belief-propagation"}],
)
"""About ten seconds of one processor."""

Step = Callable[[Progress], None]


def nothing(progress: Progress) -> None:
    return None


def carry_out(
    folder: Path, on_step: Step = nothing, *, plan: Plan = LONG, **settings: object
) -> list[Progress]:
    chosen = EngineSettings(import_folders=(RECEIVERS_FOLDER,), **settings)  # type: ignore[arg-type]
    seen = []
    with closing(run_campaign(plan, folder, settings=chosen)) as steps:
        for progress in steps:
            seen.append(progress)
            on_step(progress)
    return seen


def fingerprint(folder: Path) -> str:
    with JournalReader(folder) as reader:
        assert sum(1 for _ in reader.rows()) == sum(run.n_outcomes for run in reader.runs())
        return reader.fingerprint()


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("calm")
    (*_, last) = carry_out(folder, n_workers=1)
    assert last.n_failed == 0 and last.n_done == 3 * N_TRIALS + 10
    return fingerprint(folder)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[ClusterProcesses]:
    (tmp_path / "cluster").mkdir()
    one = ClusterProcesses(tmp_path / "cluster")
    one.start_scheduler()
    try:
        yield one
    finally:
        one.end()


def once(n_done: int, act: Callable[[], None]) -> Step:
    """Do something when so many trials are done."""
    acted: list[int] = []

    def step(progress: Progress) -> None:
        if progress.n_done >= n_done and not acted:
            acted.append(progress.n_done)
            act()

    return step


def of_nanny(nanny: "subprocess.Popen[bytes]") -> list[int]:
    """Process ids of the worker that a nanny watches over."""
    return [
        pid
        for pid in children_of(nanny.pid)
        if b"--multiprocessing-fork" in Path(f"/proc/{pid}/cmdline").read_bytes()
    ]


def test_a_worker_killed_every_ten_seconds(tmp_path: Path, calm: str) -> None:
    killed_at = [time.monotonic()]

    def kill_one(progress: Progress) -> None:
        workers = worker_processes()
        if time.monotonic() - killed_at[-1] > 10.0 and workers:
            os.kill(workers[len(killed_at) % len(workers)], signal.SIGKILL)
            killed_at.append(time.monotonic())

    seen = carry_out(tmp_path / "c", kill_one, n_workers=2)
    print(f"{len(killed_at) - 1} kills in {time.monotonic() - killed_at[0]:.0f} s")
    assert len(killed_at) > 2 and seen[-1].n_failed == 0
    assert fingerprint(tmp_path / "c") == calm


def test_a_frozen_worker_of_this_machine(tmp_path: Path, calm: str) -> None:
    frozen: list[int] = []

    def freeze_one(progress: Progress) -> None:
        if progress.n_done >= 20 and not frozen:
            frozen.append(worker_processes()[0])
            os.kill(frozen[0], signal.SIGSTOP)

    @contextmanager
    def maker() -> Iterator[object]:
        with local_crew(2, tmp_path / "c", frozen_s=FROZEN_S) as crew:
            yield crew

    settings = EngineSettings(import_folders=(RECEIVERS_FOLDER,))
    with closing(
        run_campaign(LONG, tmp_path / "c", settings=settings, crew_maker=maker)  # type: ignore[arg-type]
    ) as steps:
        for progress in steps:
            freeze_one(progress)
    assert frozen and progress.n_failed == 0
    assert fingerprint(tmp_path / "c") == calm


@pytest.mark.parametrize("thaws", [False, True])
def test_a_frozen_worker_elsewhere(
    tmp_path: Path, calm: str, cluster: ClusterProcesses, thaws: bool
) -> None:
    one, _ = cluster.start_worker("one"), cluster.start_worker("two")
    frozen: list[int] = []
    cluster.await_log("Registered to", 2)

    def freeze() -> None:
        frozen.extend(of_nanny(one))
        os.kill(frozen[0], signal.SIGSTOP)

    def thaw() -> None:
        if thaws:
            os.kill(frozen[0], signal.SIGCONT)

    freeze_step, thaw_step = once(30, freeze), once(250, thaw)

    def step(progress: Progress) -> None:
        freeze_step(progress)
        thaw_step(progress)

    (*_, last) = carry_out(
        tmp_path / "c", step, cluster=Cluster(cluster.address, frozen_s=FROZEN_S)
    )
    assert frozen and last.n_failed == 0
    assert fingerprint(tmp_path / "c") == calm


def test_a_worker_elsewhere_killed_and_one_added(
    tmp_path: Path, calm: str, cluster: ClusterProcesses
) -> None:
    one = cluster.start_worker("one")

    def disturb() -> None:
        os.kill(of_nanny(one)[0], signal.SIGKILL)  # its nanny starts another
        cluster.start_worker("two")

    (*_, last) = carry_out(tmp_path / "c", once(30, disturb), cluster=Cluster(cluster.address))
    assert last.n_failed == 0
    assert fingerprint(tmp_path / "c") == calm
    with JournalReader(tmp_path / "c") as reader:
        machines = reader.runs()[-1].environment["machines"]
    assert sum(machine["n_workers"] for machine in machines) == 3


def test_a_machine_is_lost_with_all_its_workers(
    tmp_path: Path, calm: str, cluster: ClusterProcesses
) -> None:
    one, _ = cluster.start_worker("one"), cluster.start_worker("two")
    cluster.await_log("Registered to", 2)
    (*_, last) = carry_out(
        tmp_path / "c", once(30, lambda: end_group(one)), cluster=Cluster(cluster.address)
    )
    assert last.n_failed == 0
    assert fingerprint(tmp_path / "c") == calm


def test_a_run_on_other_machines_is_killed(
    tmp_path: Path, calm: str, cluster: ClusterProcesses
) -> None:
    cluster.start_worker("one")
    script = f"""
import sys
sys.path[:0] = {[str(Path(__file__).parent), str(Path(__file__).parents[1])]!r}
from pathlib import Path
from test_sweep_faults import Cluster, carry_out
carry_out(Path({str(tmp_path / "c")!r}), cluster=Cluster({cluster.address!r}))
"""
    process = subprocess.Popen([sys.executable, "-c", script])
    wait_until(lambda: n_written(tmp_path / "c") >= 100, "100 outcomes")
    process.kill()
    process.wait()
    n_kept = n_written(tmp_path / "c")
    seen = carry_out(tmp_path / "c", cluster=Cluster(cluster.address))
    assert 100 <= n_kept == seen[0].n_done < seen[-1].n_done
    assert fingerprint(tmp_path / "c") == calm


def test_the_scheduler_is_killed_and_comes_back(
    tmp_path: Path, calm: str, cluster: ClusterProcesses
) -> None:
    cluster.start_worker("one")

    def restart() -> None:
        assert cluster.scheduler is not None
        end_group(cluster.scheduler)
        cluster.start_scheduler()
        cluster.start_worker("two")  # the first one ends with the scheduler

    (*_, last) = carry_out(tmp_path / "c", once(100, restart), cluster=Cluster(cluster.address))
    assert last.n_failed == 0
    assert fingerprint(tmp_path / "c") == calm


def test_the_scheduler_is_killed_for_good(
    tmp_path: Path, calm: str, cluster: ClusterProcesses
) -> None:
    cluster.start_worker("one")
    assert cluster.scheduler is not None
    start = time.monotonic()
    with pytest.raises(WorkersError, match="the scheduler of the workers is gone"):
        carry_out(
            tmp_path / "c",
            once(100, lambda: end_group(cluster.scheduler)),  # type: ignore[arg-type]
            cluster=Cluster(cluster.address),
        )
    print(f"told {time.monotonic() - start:.0f} s after the start")
    cluster.start_scheduler()
    cluster.start_worker("two")
    seen = carry_out(tmp_path / "c", cluster=Cluster(cluster.address))
    assert 100 <= seen[0].n_done < seen[-1].n_done
    assert fingerprint(tmp_path / "c") == calm


def test_a_trial_that_ends_its_workers_elsewhere(tmp_path: Path, cluster: ClusterProcesses) -> None:
    """With the scheduler as it comes, which by itself would try a batch on four workers."""
    plan = plan_with(
        stop={"trials_per_point": 4, "nothing_sent": 0},
        receivers=[
            {"kind": "builtin", "name": "ours", "effort": "belief-propagation"},
            python_receiver("murderous"),
        ],
    )
    bad = TrialKey(0, SENT, -19.0, 1)
    receivers = shutil.copytree(RECEIVERS_FOLDER, tmp_path / "receivers")
    samples = make(trial_of(plan, bad))[0].waveform.samples
    (receivers / "bad_slots.json").write_text(json.dumps([zlib.crc32(samples.tobytes())]))
    cluster.start_worker("one")
    settings = EngineSettings(cluster=Cluster(cluster.address), import_folders=(receivers,))
    with closing(run_campaign(plan, tmp_path / "c", settings=settings)) as steps:
        (*_, last) = steps
    assert last.is_finished and last.n_done == 2 * 3 * 4
    with JournalReader(tmp_path / "c") as reader:
        failed = [row for row in reader.rows() if row.outcome.verdict is Verdict.FAILED]
    assert [(row.key, row.receiver) for row in failed] == [(bad, 1)]
    assert failed[0].outcome.failure == "the worker process died 3 times in this trial"


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[Callable[[str], None]]:
    """A file system of its own; yields what mounts it again with other options."""
    folder.mkdir()
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder], check=False
    ).returncode:
        pytest.skip("needs the right to mount")

    def again(options: str) -> None:
        subprocess.run(["mount", "-o", f"remount,{options}", folder], check=True)

    try:
        yield again
    finally:
        subprocess.run(["umount", folder], check=True)


def test_a_full_disk(tmp_path: Path, calm: str) -> None:
    with small_disk(tmp_path / "disk", "200k") as again:
        with pytest.raises(JournalError, match="check that the disk has room"):
            carry_out(tmp_path / "disk" / "c", n_workers=1)
        n_kept = n_written(tmp_path / "disk" / "c")
        again("size=20m")
        seen = carry_out(tmp_path / "disk" / "c", n_workers=1)
        assert 0 < n_kept == seen[0].n_done
        assert fingerprint(tmp_path / "disk" / "c") == calm


def test_a_write_protected_disk(tmp_path: Path, calm: str) -> None:
    with small_disk(tmp_path / "disk", "20m") as again:
        settings = EngineSettings(n_workers=1, import_folders=(RECEIVERS_FOLDER,))
        with closing(run_campaign(LONG, tmp_path / "disk" / "c", settings=settings)) as steps:
            n_done = next(step.n_done for step in steps if step.n_done >= 50)
        again("ro")
        with pytest.raises(JournalError, match="Read-only file system"):
            carry_out(tmp_path / "disk" / "c", n_workers=1)
        again("rw")
        seen = carry_out(tmp_path / "disk" / "c", n_workers=1)
        assert seen[0].n_done == n_done
        assert fingerprint(tmp_path / "disk" / "c") == calm
