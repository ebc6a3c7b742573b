"""A package holds the whole campaign: what is unpacked is what was packed, and runs again.

Sums are read by a tool of their own (the format is that of sha256sum); zip files by the standard
library of Python.
"""

import hashlib
import json
import sqlite3
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from example_plans import changed, condition
from packed_campaigns import (
    pump_campaign,
    pump_package,
    pump_recording,
    run_here,
    tiny_plan,
)
from report_examples import PLACE_OF
from report_maps import over_offsets
from solidcopy.actions.package.again import make_all_again, make_some_again
from solidcopy.actions.package.pack import pack
from solidcopy.actions.package.plan_text import plan_toml
from solidcopy.actions.package.unpack import unpack
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.workers import Batch, Job, run_jobs
from solidcopy.cli.main import app
from solidcopy.cli.package import DIFFERS
from solidcopy.errors import PackageError
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import parse_plan, read_plan
from solidcopy.trials.trial import SENT

runner = CliRunner()


def fingerprint(campaign: Path) -> str:
    with JournalReader(campaign) as reader:
        return reader.fingerprint()


def test_what_is_unpacked_is_what_was_packed(tmp_path: Path) -> None:
    unpacked = unpack(pump_package(), tmp_path)
    assert fingerprint(unpacked.campaign) == fingerprint(pump_campaign())
    assert fingerprint(unpacked.campaign) == unpacked.environment["fingerprint"]
    for line in (unpacked.folder / "SHA256SUMS").read_text().splitlines():
        digest, path = line.split("  ", 1)
        assert hashlib.sha256((unpacked.folder / path).read_bytes()).hexdigest() == digest
    readme = (unpacked.folder / "README.txt").read_text(encoding="utf-8")
    assert "solidcopy unpack pump.zip" in readme
    assert unpacked.environment["fingerprint"] in readme
    report = unpacked.campaign / "report"
    assert {"report.html", "report.pdf", "trials.csv"} <= {file.name for file in report.iterdir()}
    assert (unpacked.folder / "recordings" / "pump motor.wav").is_file()
    assert not list(tmp_path.glob(".unpacking-*"))


def test_run_again_elsewhere_it_gives_the_same_fingerprint(tmp_path: Path) -> None:
    unpacked = unpack(pump_package(), tmp_path)
    again = run_here(unpacked.plan, tmp_path / "again.campaign")
    assert fingerprint(again) == fingerprint(pump_campaign())


def test_some_trials_again_agree(tmp_path: Path) -> None:
    agreement = make_some_again(unpack(pump_package(), tmp_path), 5)
    assert agreement.is_equal
    assert (agreement.n_trials, agreement.n_same_samples) == (5, 5)
    assert (agreement.n_answers, agreement.n_same_answers) == (5, 5)
    assert "All that was compared agrees." in agreement.text()


@pytest.mark.parametrize("column", ["digest", "verdict"])
def test_a_journal_that_was_touched_up_is_noticed(tmp_path: Path, column: str) -> None:
    unpacked = unpack(pump_package(), tmp_path)
    with sqlite3.connect(unpacked.campaign / "journal.sqlite") as journal:
        if column == "digest":
            journal.execute("UPDATE recording SET digest = zeroblob(32) WHERE trial_index = 0")
        else:
            journal.execute("UPDATE outcome SET verdict = 1 - verdict WHERE verdict < 2")
    journal.close()
    agreement = make_some_again(unpacked, 100)
    assert not agreement.is_equal
    assert agreement.unlike
    assert "NOT agree" in agreement.text()
    n_same = agreement.n_same_samples if column == "digest" else agreement.n_same_answers
    assert 0 < n_same < 10


def test_the_whole_of_it_again_by_the_command(tmp_path: Path) -> None:
    words = ["unpack", str(pump_package()), "--folder", str(tmp_path), "--whole", "--workers", "1"]
    done = runner.invoke(app, words)
    assert done.exit_code == 0, done.output
    assert "fingerprints of all outcomes: equal" in done.output
    assert "made again: 10 trials; samples equal in 10" in done.output


def test_the_commands_say_what_they_did(tmp_path: Path) -> None:
    done = runner.invoke(app, ["pack", str(pump_campaign()), "--out", str(tmp_path / "p.zip")])
    assert done.exit_code == 0, done.output
    assert f"package: {(tmp_path / 'p.zip').resolve()}" in done.output.replace("\n", "")
    words = ["unpack", str(tmp_path / "p.zip"), "--folder", str(tmp_path), "--trials", "2"]
    done = runner.invoke(app, [*words, "--json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.output)["n_same_samples"] == 2
    with sqlite3.connect(tmp_path / "pump" / "pump.campaign" / "journal.sqlite") as journal:
        journal.execute("UPDATE recording SET digest = zeroblob(32)")
    journal.close()
    spoilt = pack(tmp_path / "pump" / "pump.campaign", tmp_path / "q.zip").path
    words = ["unpack", str(spoilt), "--folder", str(tmp_path / "b"), "--trials", "2"]
    assert runner.invoke(app, words).exit_code == DIFFERS


def test_the_same_journal_gives_the_same_package(tmp_path: Path) -> None:
    again = pack(pump_campaign(), tmp_path / "pump.zip")
    assert again.path.read_bytes() == pump_package().read_bytes()
    assert not list(pump_campaign().glob(".packing-*"))


def test_while_a_run_writes_a_package_holds_one_moment(tmp_path: Path) -> None:
    plan = tiny_plan(pump_recording(tmp_path))
    keys = [TrialKey(place, SENT, value, 0) for place in (0, 1) for value in plan.axis.points()]
    finished = run_jobs(Batch(plan.model_dump_json(), ()), [Job(key, (0,)) for key in keys])
    with JournalWriter(tmp_path / "live.campaign", plan, PLACE_OF) as journal:
        journal.append(finished[:3])
        packed = pack(tmp_path / "live.campaign", None)
        journal.append(finished[3:])
    assert not packed.is_finished
    assert "not finished" in packed.text()
    unpacked = unpack(packed.path, tmp_path / "there")
    with JournalReader(unpacked.campaign) as reader:
        assert len(list(reader.rows())) == 3
    assert [file.name for file in unpacked.campaign.iterdir()].count("journal.sqlite-wal") == 0
    assert "3 of" in (unpacked.folder / "README.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("what", ["gone", "another"])
def test_a_recording_that_is_not_the_one_used_is_refused(tmp_path: Path, what: str) -> None:
    recording = pump_recording(tmp_path)
    plan = tiny_plan(recording, stop={"trials_per_point": 1, "nothing_sent": 0})
    folder = run_here(plan, tmp_path / "p.campaign")
    if what == "gone":
        recording.unlink()
    else:
        content = bytearray(recording.read_bytes())
        content[-1] ^= 1
        recording.write_bytes(content)
    with pytest.raises(PackageError, match="bring"):
        pack(folder, None)
    assert not (tmp_path / "p.zip").exists()
    assert not list(folder.glob(".packing-*"))


def test_no_program_of_a_package_is_started(tmp_path: Path) -> None:
    mark = tmp_path / "started"
    program = {
        "kind": "program",
        "name": "somebody's program",
        "command": ["/bin/sh", "-c", f"touch {mark}"],
        "answer": {"kind": "lines", "layout": "{text}"},
    }
    builtin = {"kind": "builtin", "effort": "belief-propagation", "passes": 1}
    plan = tiny_plan(pump_recording(tmp_path), receivers=[builtin, program])
    run_here(plan, tmp_path / "p.campaign")  # only the first of them hears
    unpacked = unpack(pack(tmp_path / "p.campaign", None).path, tmp_path / "there")
    agreement = make_some_again(unpacked, 3)
    assert agreement.is_equal
    assert agreement.not_heard == ("somebody's program",)
    with pytest.raises(PackageError, match="would start programs"):
        next(make_all_again(unpacked, n_workers=1))
    assert not mark.exists()
    assert "somebody's program" in (unpacked.folder / "README.txt").read_text(encoding="utf-8")


def plans() -> dict[str, Any]:
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    keyed = {"kind": "carrier", "interference_to_noise_db": 3.0, "offset_hz": 9.5}
    return {
        "minimal": parse_plan(changed()),
        "map": over_offsets(),
        "two": parse_plan(
            changed(conditions=[condition(), condition("b", impairments=[noise, keyed])])
        ),
        "sending": parse_plan(
            changed(
                conditions=[condition(sending={"message": "CQ Q1ABC JO22", "audio_hz": 1500.0})]
            )
        ),
    }


@pytest.mark.parametrize("name", plans())
def test_a_plan_comes_back_from_its_file(tmp_path: Path, name: str) -> None:
    plan = plans()[name]
    (tmp_path / "p.toml").write_text(plan_toml(plan, {}), encoding="utf-8")
    assert read_plan(tmp_path / "p.toml") == plan


def test_two_recordings_of_one_name_stay_apart(tmp_path: Path) -> None:
    first, second = pump_recording(tmp_path / "a"), pump_recording(tmp_path / "b")
    plan = tiny_plan(first, stop={"trials_per_point": 1, "nothing_sent": 0})
    other = plan.conditions[1].model_copy(
        update={
            "name": "other pump",
            "impairments": tuple(
                one.model_copy(update={"file": str(second)}) if one.kind == "recording" else one
                for one in plan.conditions[1].impairments
            ),
        }
    )
    plan = replace_conditions(plan, other)
    with zipfile.ZipFile(pack(run_here(plan, tmp_path / "p.campaign"), None).path) as package:
        inside = [name for name in package.namelist() if "/recordings/" in name]
    assert inside == ["p/recordings/pump motor.wav", "p/recordings/2-pump motor.wav"]
    assert make_some_again(unpack(tmp_path / "p.zip", tmp_path / "there"), 6).is_equal


def replace_conditions(plan: Any, other: Any) -> Any:
    return parse_plan(
        plan.model_dump() | {"conditions": [*plan.model_dump()["conditions"], other.model_dump()]}
    )


def test_an_empty_comparison_is_no_agreement(tmp_path: Path) -> None:
    agreement = make_some_again(unpack(pump_package(), tmp_path), 1)
    assert agreement.is_equal
    assert not replace(agreement, n_trials=0, n_same_samples=0).is_equal
