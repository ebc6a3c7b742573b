"""Several hosts with cables between them that are cut: network namespaces of this machine.

Every campaign must end with the outcomes of an undisturbed run, row for row.
"""

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from campaign_samples import plan_with
from cluster_processes import ClusterProcesses
from namespaces import Host, hosts
from test_sweep_faults import LONG, N_TRIALS, Step, carry_out, fingerprint, once

from solidcopy.campaigns.remote_crew import Cluster
from solidcopy.errors import WorkersError
from solidcopy.trials.plan import Plan

pytestmark = [pytest.mark.derived, pytest.mark.sweep]

FROZEN_S = 20.0


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("calm")
    (*_, last) = carry_out(folder, n_workers=1)
    assert last.n_done == 3 * N_TRIALS + 10
    return fingerprint(folder)


@pytest.fixture
def three(tmp_path: Path) -> Iterator[tuple[ClusterProcesses, list[Host]]]:
    """A scheduler on one host, a worker on each of two others; the run is on a fourth."""
    (tmp_path / "cluster").mkdir()
    with hosts(3) as made:
        hub, *others = made
        cluster = ClusterProcesses(tmp_path / "cluster", inside=hub.inside, host=hub.address)
        try:
            cluster.start_scheduler()
            for host in others:
                add_worker(cluster, host)
            cluster.await_log("Registered to", 2)
            yield cluster, made
        finally:
            cluster.end()


def add_worker(cluster: ClusterProcesses, host: Host) -> None:
    cluster.start_worker(host.name, inside=host.inside, more=["--host", host.address])


def cut_for(host: Host, *, from_n_done: int, seconds: float | None) -> Step:
    """Pull a cable, and put it back later, unless that is None."""

    def cut() -> None:
        host.cut()
        if seconds is not None:
            threading.Timer(seconds, host.mend).start()

    return once(from_n_done, cut)


@pytest.mark.parametrize("seconds", [10.0, None])
def test_the_cable_of_a_worker_is_cut(
    tmp_path: Path, calm: str, three: tuple[ClusterProcesses, list[Host]], seconds: float | None
) -> None:
    cluster, (_, _, far) = three
    step = cut_for(far, from_n_done=60, seconds=seconds)
    start = time.monotonic()
    (*_, last) = carry_out(
        tmp_path / "c", step, cluster=Cluster(cluster.address, frozen_s=FROZEN_S)
    )
    print(f"cable of a worker cut for {seconds} s: {time.monotonic() - start:.0f} s in all")
    assert last.n_failed == 0
    assert fingerprint(tmp_path / "c") == calm


@pytest.mark.parametrize("seconds", [10.0, 75.0])
def test_the_cable_of_the_scheduler_is_cut(
    tmp_path: Path, calm: str, three: tuple[ClusterProcesses, list[Host]], seconds: float
) -> None:
    cluster, (hub, *others) = three
    step = cut_for(hub, from_n_done=60, seconds=seconds)
    where = Cluster(cluster.address, frozen_s=FROZEN_S)
    start = time.monotonic()
    told = "the same run went on"
    try:
        carry_out(tmp_path / "c", step, cluster=where)
    except WorkersError as error:
        told = str(error)
        hub.mend()
        for host in others:
            add_worker(cluster, host)
        carry_out(tmp_path / "c", cluster=where)
    print(f"cable of the scheduler cut for {seconds:g} s: {time.monotonic() - start:.0f} s; {told}")
    assert fingerprint(tmp_path / "c") == calm


def with_recording(folder: Path) -> Plan:
    samples = np.random.default_rng(3).normal(0.0, 0.05, 12_000 * 60)
    folder.mkdir()
    soundfile.write(folder / "pump.wav", samples, 12_000)
    pump = {"kind": "recording", "file": str(folder / "pump.wav"), "snr_db": "axis"}
    return plan_with(conditions=[{"name": "pump", "impairments": [pump]}], receivers=LONG.receivers)


def test_a_recording_travels_to_a_host_that_has_another_disk(tmp_path: Path) -> None:
    plan = with_recording(tmp_path / "own")
    carry_out(tmp_path / "calm", plan=plan, n_workers=1)
    hide = ["unshare", "-m", "sh", "-c", f'mount -t tmpfs none {tmp_path / "own"} && exec "$@"']
    (tmp_path / "cluster").mkdir()
    with hosts(2) as (hub, far):
        cluster = ClusterProcesses(tmp_path / "cluster", inside=hub.inside, host=hub.address)
        try:
            cluster.start_scheduler()
            cluster.start_worker(
                "far", inside=[*far.inside, *hide, "sh"], more=["--host", far.address]
            )
            carry_out(tmp_path / "c", plan=plan, cluster=Cluster(cluster.address))
        finally:
            cluster.end()
    assert fingerprint(tmp_path / "c") == fingerprint(tmp_path / "calm")
