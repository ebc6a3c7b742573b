"""Workers on other machines: who is admitted, what travels, and what is said where it fails.

Whether outcomes are the same there is told by `run_jobs` in this process.
"""

import socket
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from campaign_samples import PLAN, RECEIVERS_FOLDER, plan_with
from cluster_processes import ClusterProcesses, make_certificates
from distributed import Client, LocalCluster

from solidcopy.actions.elsewhere import Elsewhere
from solidcopy.actions.run import RunOptions
from solidcopy.actions.run import run_campaign as run_as_asked
from solidcopy.campaigns import admission, machine
from solidcopy.campaigns.admission import Admission, RefusedError, refuse_unlike
from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.environment import Machine
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.machine import Tried, file_digests, shared_facts, try_out
from solidcopy.campaigns.machines import machines_of, unlike_words
from solidcopy.campaigns.reference import Reference
from solidcopy.campaigns.remote_crew import Cluster, TlsFiles, remote_crew
from solidcopy.campaigns.roster import Roster
from solidcopy.campaigns.workers import Batch, Job, run_jobs
from solidcopy.errors import PlanError, WorkersError
from solidcopy.reports.environment import environment
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

NUMPY_HERE = np.__version__


def reference_of_plan(plan: Plan) -> Reference:
    jobs = (Job(TrialKey(0, SENT, -19.0, 0), (0,)),)
    return Reference(Batch(plan.model_dump_json(), jobs, (str(RECEIVERS_FOLDER),)), {})


NO_TRIALS = Reference(Batch("", ()), {})


def with_recording(folder: Path) -> Plan:
    samples = np.random.default_rng(3).normal(0.0, 0.05, 12_000 * 20)
    soundfile.write(folder / "pump.wav", samples, 12_000)
    pump = {"kind": "recording", "file": str(folder / "pump.wav"), "snr_db": "axis"}
    return plan_with(
        conditions=[{"name": "pump", "impairments": [pump]}],
        receivers=[{"kind": "builtin", "name": "ours", "effort": "belief-propagation"}],
    )


@pytest.fixture(scope="module")
def here() -> Iterator[LocalCluster]:
    """A scheduler and one worker inside this process."""
    with LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        protocol="tcp",
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
    ) as cluster:
        yield cluster


@pytest.fixture
def client(here: LocalCluster) -> Iterator[Client]:
    with Client(here.scheduler_address, set_as_default=False) as one:
        yield one


def only_worker(client: Client) -> str:
    (address,) = client.scheduler_info(n_workers=-1)["workers"]
    return str(address)


def test_what_differs_is_named_with_what_is_needed() -> None:
    needed = {"numpy": "2.4.6", "scipy": "1.17.1", "recipe of receiver builtin": "4"}
    refuse_unlike(needed, needed)
    with pytest.raises(RefusedError) as refused:
        refuse_unlike({"numpy": "2.4.6", "scipy": "1.11.0"}, needed)
    assert str(refused.value) == (
        "has scipy 1.11.0 (1.17.1 is needed), no recipe of receiver builtin (4 is needed); bring "
        "it to what is needed, or stop that worker"
    )


def test_versions_recipes_code_and_modules_must_be_shared(tmp_path: Path) -> None:
    facts = shared_facts(PLAN.model_dump_json(), (str(RECEIVERS_FOLDER),))
    assert facts["numpy"] == NUMPY_HERE
    assert facts.keys() >= {"solidcopy", "scipy", "numba", "Python", "program code"}
    assert facts["recipe of receiver builtin"] == str(PLAN.receivers[0].recipe)
    assert "recipe of impairment gaussian-noise" in facts
    module = "module of receiver loud"
    (tmp_path / "process_receivers.py").write_text("def loud(samples, rate):\n    return []\n")
    changed = shared_facts(PLAN.model_dump_json(), (str(tmp_path),))
    assert {name for name in facts if facts[name] != changed[name]} == {module}
    (tmp_path / "process_receivers.py").unlink()
    assert shared_facts(PLAN.model_dump_json(), (str(tmp_path),))[module] == machine.MISSING


def other_numpy(plan_json: str, import_folders: tuple[str, ...]) -> dict[str, str]:
    return {**shared_facts(plan_json, import_folders), "numpy": "1.0.0"}


def cannot_load(plan_json: str, import_folders: tuple[str, ...]) -> dict[str, str]:
    raise ModuleNotFoundError("No module named 'solidcopy'")


@pytest.mark.parametrize(
    ("told", "why"),
    [
        (other_numpy, f"has numpy 1.0.0 ({NUMPY_HERE} is needed)"),
        (cannot_load, "cannot load solidcopy as this run has it (ModuleNotFoundError"),
    ],
)
def test_a_worker_that_differs_gets_no_work(
    client: Client, monkeypatch: pytest.MonkeyPatch, told: object, why: str
) -> None:
    roster = Roster(client, Admission(client, reference_of_plan(PLAN)))
    monkeypatch.setattr(admission, "shared_facts", told)
    roster.look()
    deadline = time.monotonic() + 60.0
    while roster.n_asked and time.monotonic() < deadline:
        time.sleep(0.02)
    assert roster.members == {}
    (refusal,) = roster.refusals
    assert refusal.startswith("worker ") and why in refusal and only_worker(client) in refusal


def not_there(paths: list[str]) -> dict[str, str | None]:
    """As of a machine that lacks what the plan names."""
    return {**file_digests(paths), **{path: None for path in paths if path.endswith("pump.wav")}}


def test_recordings_travel_to_a_machine_that_lacks_them(
    client: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = with_recording(tmp_path)
    admit = Admission(client, reference_of_plan(plan))
    address = only_worker(client)
    assert admit(address).result(60.0).plan_json == plan.model_dump_json()  # they are there
    monkeypatch.setattr(admission, "file_digests", not_there)
    monkeypatch.setattr(admission, "PIECE_BYTES", 100_000)
    member = admit(address).result(60.0)
    assert member.plan_json is not None
    moved = Plan.model_validate_json(member.plan_json)
    (there,) = (item.file for item in moved.conditions[0].impairments)
    assert there != str(tmp_path / "pump.wav")
    assert Path(there).read_bytes() == (tmp_path / "pump.wav").read_bytes()
    assert member.compared is not None and member.compared.n_other_sound == 0


def other_sound(batch: Batch) -> Tried:
    tried = try_out(batch)
    return replace(tried, digests=dict.fromkeys(tried.digests, "0" * 64))


def test_a_machine_with_other_sound_is_named_and_its_answers_compared(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    admit = Admission(client, reference_of_plan(PLAN))
    alike = admit(only_worker(client)).result(60.0)
    monkeypatch.setattr(admission, "try_out", other_sound)
    unlike = admit(only_worker(client)).result(60.0)
    assert alike.compared is not None and unlike.compared is not None
    assert (alike.compared.n_trials, alike.compared.n_other_sound) == (1, 0)
    assert (unlike.compared.n_other_sound, unlike.compared.n_answers) == (1, 1)
    assert unlike.compared.n_other_answers == 0  # the same receiver on the same machine
    machines = machines_of([alike, unlike, unlike])
    assert [machine.n_workers for machine in machines] == [1, 2]
    assert {machine.host for machine in machines} == {socket.gethostname()}
    assert unlike_words(machines[1]) == (
        "makes other samples in 1 of 1 trials compared; 1 of 1 answers of receivers to them are "
        "alike"
    )


def test_a_worker_with_many_threads_is_refused() -> None:
    with (
        LocalCluster(
            n_workers=1,
            threads_per_worker=2,
            processes=False,
            protocol="tcp",
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
        ) as cluster,
        pytest.raises(WorkersError, match="has 2 threads; start it with `--nthreads 1`"),
        remote_crew(Cluster(cluster.scheduler_address), reference_of_plan(PLAN)),
    ):
        pass


def test_no_worker_within_the_stated_time_ends_the_run() -> None:
    with (
        LocalCluster(
            n_workers=0,
            processes=False,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
            protocol="tcp",
        ) as cluster,
        pytest.raises(WorkersError, match=r"no worker for 0.3 s: none is there.*`dask worker`"),
        remote_crew(Cluster(cluster.scheduler_address, patience_s=0.3), reference_of_plan(PLAN)),
    ):
        pass


def test_certificates_for_a_scheduler_without_any_are_told(
    here: LocalCluster, tmp_path: Path
) -> None:
    ours = make_certificates(tmp_path / "ours")
    where = Cluster(
        here.scheduler_address.replace("tcp:", "tls:"),
        TlsFiles(ours / "ca.pem", ours / "cert.pem", ours / "key.pem"),
    )
    start = time.monotonic()
    with pytest.raises(WorkersError, match="does not speak tls"), remote_crew(where, NO_TRIALS):
        pass
    assert time.monotonic() - start < 20.0


@pytest.mark.parametrize("address", ["127.0.0.1:8786", "http://shed:8786", "tcp://shed", ""])
def test_an_address_that_is_none_is_told(address: str) -> None:
    with pytest.raises(WorkersError, match="give its address as tcp://HOST:PORT"):
        Cluster(address)


def test_half_an_answer_about_other_machines_is_told(tmp_path: Path) -> None:
    ca = tmp_path / "ca.pem"
    with pytest.raises(WorkersError, match="give --scheduler as well"):
        Elsewhere(tls_ca=ca).cluster()
    with pytest.raises(WorkersError, match="all three of --tls-ca, --tls-cert and --tls-key"):
        Elsewhere("tls://shed:8786", tls_ca=ca).cluster()
    with pytest.raises(WorkersError, match="need an address that begins with tls://"):
        Elsewhere("tcp://shed:8786", ca, ca, ca).cluster()
    with pytest.raises(WorkersError, match="cannot be used"):
        TlsFiles(ca, ca, ca).security()
    asked = RunOptions(n_workers=2, elsewhere=Elsewhere("tcp://shed:8786"))
    with pytest.raises(PlanError, match="leave it out beside --scheduler"):
        next(run_as_asked(tmp_path / "plan.toml", asked))


def test_a_campaign_over_tls_gives_the_outcomes_of_this_process(tmp_path: Path) -> None:
    ours = make_certificates(tmp_path / "ours")
    theirs = make_certificates(tmp_path / "theirs")
    (tmp_path / "cluster").mkdir()
    plan = plan_with(stop={"trials_per_point": 2, "nothing_sent": 1})
    cluster = ClusterProcesses(tmp_path / "cluster", tls=ours)
    try:
        cluster.start_scheduler()
        cluster.start_worker("shed")
        cluster.await_log("Registered to")
        stranger = TlsFiles(theirs / "ca.pem", theirs / "cert.pem", theirs / "key.pem")
        half = TlsFiles(ours / "ca.pem", theirs / "cert.pem", theirs / "key.pem")
        plain = cluster.address.replace("tls:", "tcp:")
        for where, said in (
            (Cluster(cluster.address, stranger), "not signed by the authority that was given"),
            (Cluster(cluster.address, half), "does not know the authority that signed our"),
            (Cluster(cluster.address), "tls needs certificates: give --tls-ca"),
            (Cluster(plain), "closed it; if it was started with certificates, use its tls://"),
        ):
            with pytest.raises(WorkersError, match=said), remote_crew(where, NO_TRIALS):
                pass
        files = TlsFiles(ours / "ca.pem", ours / "cert.pem", ours / "key.pem")
        settings = EngineSettings(
            cluster=Cluster(cluster.address, files), import_folders=(RECEIVERS_FOLDER,)
        )
        with closing(run_campaign(plan, tmp_path / "c", settings=settings)) as steps:
            assert list(steps)[-1].is_finished
    finally:
        cluster.end()
    with JournalReader(tmp_path / "c") as reader:
        rows = {(row.key, row.receiver): row.outcome for row in reader.rows()}
        (told,) = reader.runs()[-1].environment["machines"]
        said = [value for name, value in environment(reader) if name == "machine of run 1"]
    assert Machine(**told).host == socket.gethostname()
    assert said[0].endswith("1 worker; sample for sample alike in each trial compared (5)")
    assert (told["n_workers"], told["n_other_sound"]) == (1, 0)
    batch = Batch(plan.model_dump_json(), (), (str(RECEIVERS_FOLDER),))
    jobs = [Job(key, (0, 1)) for key in {key for key, _ in rows}]
    assert len(rows) == 2 * len(jobs) == 2 * (3 * 2 + 1)
    for item in run_jobs(batch, jobs):
        found = rows[item.key, item.receiver]
        assert (found.verdict, found.digest) == (item.outcome.verdict, item.outcome.digest)
