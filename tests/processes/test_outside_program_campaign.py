"""Campaigns through an outside program: the same outcomes as without the process border, whatever
becomes of the workers.
"""

import os
import signal
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import tomli_w

from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.records import JournalRow
from solidcopy.receivers.program.places import MARK
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan, parse_plan, read_plan

pytestmark = [
    pytest.mark.derived,
    pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of other processes"),
]

HERE = Path(__file__).parent
EXAMPLE = HERE.parents[1] / "examples" / "decode_file"


@pytest.fixture
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where copies work, also those of worker processes."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(folder))
    monkeypatch.setenv("TMPDIR", str(folder))
    return folder


def rows_of(folder: Path) -> list[JournalRow]:
    with JournalReader(folder) as reader:
        return list(reader.rows())


def left_behind(places: Path) -> list[str]:
    """Folders of copies and processes that work in them."""
    found = [str(path) for path in places.glob("solidcopy-*/copy-*")]
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if f"{MARK}={places}".encode() in (entry / "environ").read_bytes():
                found.append(entry.name)
        except OSError:
            continue
    return found


def wait_for_nothing(places: Path) -> None:
    deadline = time.monotonic() + 60.0
    while left := left_behind(places):
        assert time.monotonic() < deadline, f"still there: {left}"
        time.sleep(0.05)


def small(plan: Plan, receivers: list[dict[str, Any]], **changes: Any) -> Plan:
    data = {**plan.model_dump(mode="json"), "receivers": receivers, **changes}
    return parse_plan(data)


def test_the_example_decodes_what_the_built_in_receiver_decodes(
    tmp_path: Path, places: Path
) -> None:
    example = read_plan(EXAMPLE / "plan.toml")
    builtin, program = (receiver.model_dump(mode="json") for receiver in example.receivers)
    builtin["effort"] = "belief-propagation"
    program["command"] = [*program["command"], "--effort", "belief-propagation"]
    program["audio"] = {**program["audio"], "word_length": "float"}
    plan = small(
        example,
        [builtin, program],
        axis={"values": [-21.0, -15.0]},
        stop={"trials_per_point": 2, "nothing_sent": 1},
    )
    settings = EngineSettings(n_workers=1, import_folders=(EXAMPLE,))
    with closing(run_campaign(plan, tmp_path / "campaign", settings=settings)) as steps:
        assert list(steps)[-1].is_finished
    rows = rows_of(tmp_path / "campaign")
    by_key = {(row.key, row.receiver): row.outcome for row in rows}
    assert len(by_key) == 2 * 5
    verdicts = set()
    for row in rows:
        ours, theirs = by_key[row.key, 0], by_key[row.key, 1]
        assert theirs.failure is None
        assert ours.verdict is theirs.verdict
        assert ours.digest == theirs.digest
        assert [d.text for d in ours.false] == [d.text for d in theirs.false]
        verdicts.add(ours.verdict)
        if ours.right is not None:
            assert theirs.right is not None and theirs.right.text == ours.right.text
            # Half a unit of the last printed place, and the rounding of this number itself.
            assert theirs.right.audio_hz == pytest.approx(ours.right.audio_hz, abs=0.00501)
            assert theirs.right.time_offset_s == pytest.approx(
                ours.right.time_offset_s, abs=0.00051
            )
            assert theirs.right.snr_db == pytest.approx(ours.right.snr_db, abs=0.0501)
    assert {Verdict.DECODED, Verdict.NOTHING_SENT} <= verdicts
    wait_for_nothing(places)


def stub(name: str, behaviour: str, *arguments: str, **changes: Any) -> dict[str, Any]:
    return {
        "kind": "program",
        "name": name,
        "command": [
            "{python}", "-S", "-E", "{plan_folder}/stub_program.py", behaviour, *arguments
        ],
        "answer": {"kind": "lines", "layout": "copied {text} ; {audio_hz} ; {skip} ; {skip}"},
        **changes,
    }  # fmt: skip


def test_killed_workers_leave_nothing_and_cost_nothing(tmp_path: Path, places: Path) -> None:
    plan = small(
        read_plan(EXAMPLE / "plan.toml"),
        [
            stub("slow", "wait", "0.3"),
            stub("hanging", "hang", time_limit_s=0.5, at_most_at_once=1),
            stub("strange", "strange"),
        ],
        axis={"values": [-15.0]},
        stop={"trials_per_point": 5, "nothing_sent": 0},
    )
    killed: list[int] = []
    settings = EngineSettings(n_workers=2, import_folders=(HERE,))
    with closing(run_campaign(plan, tmp_path / "campaign", settings=settings)) as steps:
        for progress in steps:
            if progress.n_done >= 3 and not killed:
                killed += guardians_parents(places)
                for pid in killed:
                    os.kill(pid, signal.SIGKILL)
    assert killed
    rows = rows_of(tmp_path / "campaign")
    assert len(rows) == 3 * 5
    said = {row.receiver_name: set[str | None]() for row in rows}
    for row in rows:
        said[row.receiver_name].add(row.outcome.failure)
    assert said == {
        "slow": {None},
        "hanging": {"no answer within 0.5 s; it said: still thinking"},
        "strange": {
            "the program ended with exit code 77; it said: copied CQ Q1ABC FN42 ; 1500.0 ; 0.1 ; "
            "-12"
        },
    }
    wait_for_nothing(places)


def test_a_killed_campaign_leaves_nothing(tmp_path: Path, places: Path) -> None:
    plan = small(
        read_plan(EXAMPLE / "plan.toml"),
        [stub("hanging", "hang", time_limit_s=60.0)],
        axis={"values": [-15.0]},
        stop={"trials_per_point": 5, "nothing_sent": 0},
    )
    (tmp_path / "plan.toml").write_text(tomli_w.dumps(plan_data(plan)), encoding="utf-8")
    (tmp_path / "stub_program.py").write_bytes((HERE / "stub_program.py").read_bytes())
    code = "from solidcopy.cli.main import app; app()"
    command = [sys.executable, "-c", code, "run", str(tmp_path / "plan.toml"), "--workers", "2"]
    campaign = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        deadline = time.monotonic() + 60.0
        # Two copies: each a folder, a program and two children of it.
        while len(left_behind(places)) < 2 * 4:
            assert time.monotonic() < deadline and campaign.poll() is None
            time.sleep(0.05)
    finally:
        campaign.kill()
        campaign.wait()
    wait_for_nothing(places)


def plan_data(plan: Plan) -> dict[str, Any]:
    """For a file: without what is left out."""
    return plan.model_dump(mode="json", exclude_none=True)


def guardians_parents(places: Path) -> list[int]:
    """Workers: whoever started a guardian that works in one of these places."""
    found = set()
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            command = (entry / "cmdline").read_bytes().decode(errors="replace")
            parent = (entry / "stat").read_text("ascii").rpartition(")")[2].split()[1]
        except OSError:
            continue
        if "program.guardian" in command and str(places) in command:
            found.add(int(parent))
    return sorted(found)
