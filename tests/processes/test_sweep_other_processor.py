"""A worker that calculates as an older processor would: what differs is told, and does not matter
to answers. numpy, the C library and compiled loops are each told to do without newer instructions.
"""

import platform
from pathlib import Path

import pytest
from campaign_samples import plan_with
from cluster_processes import ClusterProcesses
from test_sweep_faults import LONG, carry_out

from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.reference import N_EACH
from solidcopy.campaigns.remote_crew import Cluster
from solidcopy.reports.environment import environment

pytestmark = [pytest.mark.derived, pytest.mark.sweep]

OLDER = {
    "NPY_DISABLE_CPU_FEATURES": "X86_V3",
    "OPENBLAS_CORETYPE": "Prescott",
    "GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX2,-FMA,-FMA4,-AVX2_Usable,-FMA_Usable",
    "NUMBA_CPU_NAME": "nehalem",
}

PLAN = plan_with(
    stop={"trials_per_point": 30, "nothing_sent": 4},
    conditions=[
        {
            "name": "speech beside",
            "impairments": [
                {"kind": "gaussian-noise", "snr_db": "axis"},
                {"kind": "speech-sideband", "audio_hz": 0.0, "signal_to_interference_db": 0.0},
            ],
        },
        {"name": "quiet", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]},
    ],
    receivers=LONG.receivers,
)


@pytest.mark.skipif(platform.machine() != "x86_64", reason="names instructions of x86-64")
def test_an_older_processor_among_others_is_told(tmp_path: Path) -> None:
    carry_out(tmp_path / "calm", plan=PLAN, n_workers=1)
    (tmp_path / "cluster").mkdir()
    cluster = ClusterProcesses(tmp_path / "cluster")
    try:
        cluster.start_scheduler()
        cluster.start_worker("new")
        cluster.start_worker("old", environment={**OLDER, "NUMBA_CACHE_DIR": str(tmp_path / "n")})
        cluster.await_log("Registered to", 2)
        (*_, last) = carry_out(tmp_path / "c", plan=PLAN, cluster=Cluster(cluster.address))
    finally:
        cluster.end()
    assert last.is_finished and last.n_failed == 0
    with JournalReader(tmp_path / "c") as reader, JournalReader(tmp_path / "calm") as calm:
        machines = reader.runs()[-1].environment["machines"]
        said = [text for name, text in environment(reader) if name.startswith("machine")]
        pairs = list(zip(reader.rows(), calm.rows(), strict=True))
    print(*said, sep="\n")
    assert sorted(machine["n_other_sound"] > 0 for machine in machines) == [False, True]
    unlike = machines[-1]
    assert unlike["n_trials"] == 2 * N_EACH
    assert unlike["n_answers"] == unlike["n_other_sound"] and unlike["n_other_answers"] == 0
    n_other = sum(one.outcome.digest != two.outcome.digest for one, two in pairs)
    print(f"{n_other} of {len(pairs)} recordings differ from those of one machine alone")
    assert all(one.key == two.key for one, two in pairs)
    assert [one.outcome.verdict for one, _ in pairs] == [two.outcome.verdict for _, two in pairs]
