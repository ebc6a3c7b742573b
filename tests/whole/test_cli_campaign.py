"""The whole job by the commands that a user types, on a small plan."""

import contextlib
import hashlib
import io
import json
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
import tomli_w
from typer.testing import CliRunner

from example_plans import changed, condition
from solidcopy.cli.main import app, main

RUNNER = CliRunner()

HUM = {"kind": "band-noise", "offset_hz": 0, "width_hz": 200, "interference_to_noise_db": 0}


@dataclass(frozen=True)
class Ran:
    returncode: int
    stdout: str
    stderr: str


def solidcopy(*arguments: str, cwd: Path) -> Ran:
    """The command in this process; its workers are processes of their own all the same."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with (
        contextlib.chdir(cwd),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr(sys, "argv", ["solidcopy", *arguments])
        try:
            main()
        except SystemExit as ended:
            code = int(ended.code or 0)
    return Ran(code, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a plan that was run by the command."""
    folder = tmp_path_factory.mktemp("bench")
    hum = condition("hum")
    hum["impairments"].append(HUM)
    plan = changed(
        title="A small question",
        axis={"values": [-23, -20, -14, -10]},
        stop={"trials_per_point": 6, "nothing_sent": 4},
        conditions=[condition("quiet"), hum],
    )
    (folder / "small.toml").write_text(tomli_w.dumps(plan))
    ran = solidcopy("run", "small.toml", "--workers", "2", cwd=folder)
    assert ran.returncode == 0, ran.stderr
    (folder / "printed.txt").write_text(ran.stdout)
    return folder


def test_a_run_ends_with_the_answer_and_the_path_of_the_report(finished: Path) -> None:
    lines = (finished / "printed.txt").read_text().splitlines()
    assert any("“hum”" in line for line in lines)
    report = Path(lines[-1].removeprefix("report: "))
    assert report.is_file()
    assert report.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_strong_signals_get_through_and_weak_ones_do_not(finished: Path) -> None:
    status = solidcopy("status", "small.toml", "--json", cwd=finished)
    progress = json.loads(status.stdout)
    assert progress["is_finished"] and progress["n_done"] == 2 * (4 * 6 + 4)
    by_name = {curve["condition_name"]: curve["points"] for curve in progress["curves"]}
    quiet = [point["n_decoded"] for point in by_name["quiet"]]
    hum = [point["n_decoded"] for point in by_name["hum"]]
    # Hum of the noise's power in 2500 Hz within 200 Hz: 1 + 12.5 times the density, 11.3 dB.
    assert quiet[0] <= 2 and quiet[2:] == [6, 6]
    assert hum[:2] == [0, 0]


def test_running_again_finds_nothing_to_do(finished: Path) -> None:
    again = solidcopy("resume", "small.campaign", cwd=finished)
    assert again.returncode == 0
    assert "running" not in again.stdout


def test_a_trial_is_made_anew_and_proved(finished: Path) -> None:
    made = solidcopy("remake", "small.campaign", "2@-14#3", "--out", "out", cwd=finished)
    assert made.returncode == 0 and "digest proved" in made.stdout
    described = json.loads((finished / "out/trial-2_-14_3.json").read_text())
    samples, rate = soundfile.read(finished / "out/trial-2_-14_3.wav", dtype="float32")
    assert rate == 12_000 and samples.size == 15 * 12_000
    digest = hashlib.sha256(samples.astype("<f4").tobytes()).hexdigest()
    assert digest == described["digest_sha256_float32le"] == described["digest_in_journal"]
    asked = {level["name"]: level["asked_db"] for level in described["readings"]["levels"]}
    assert asked == {"gaussian-noise": -14.0, "band-noise": 0.0}
    assert float(np.abs(samples).max()) < 1.0


def test_any_two_conditions_can_be_compared(finished: Path) -> None:
    shown = solidcopy("compare", "small.campaign", "hum", "quiet", cwd=finished)
    assert shown.returncode == 0 and "hum" in shown.stdout
    facts = json.loads(
        solidcopy("compare", "small.campaign", "1", "2", "--json", cwd=finished).stdout
    )
    assert (facts["name"], facts["against"], facts["p"]) == ("quiet", "hum", 0.5)


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["run", "nowhere.toml"], 3, "cannot be read"),
        (["status", "nowhere.campaign"], 7, "no campaign was begun there"),
        (["remake", "small.campaign", "9@-14#3"], 3, "is no condition of this plan"),
        (["compare", "small.campaign", "hum", "hum"], 3, "is named twice"),
        (["run", "small.toml", "--workers", "0"], 3, "--workers must be at least 1"),
    ],
)
def test_a_mistake_is_one_sentence_and_an_exit_code(
    finished: Path, arguments: list[str], code: int, sentence: str
) -> None:
    failed = solidcopy(*arguments, cwd=finished)
    assert failed.returncode == code
    assert failed.stderr.count("\n") == 1 and sentence in failed.stderr


def test_json_events_can_be_read_line_by_line(finished: Path) -> None:
    shown = solidcopy("resume", "small.campaign", "--json", cwd=finished)
    events = [json.loads(line) for line in shown.stdout.splitlines()]
    assert events[0]["event"] == "progress" and events[-1]["event"] == "report"
    assert Path(finished / events[-1]["report"]).is_file()


def test_version() -> None:
    assert RUNNER.invoke(app, ["--version"]).output.startswith("solidcopy ")


def test_ctrl_c_says_how_far_it_came_and_the_same_command_goes_on(tmp_path: Path) -> None:
    plan = changed(axis={"values": [-20, -10]}, stop={"trials_per_point": 400, "nothing_sent": 0})
    (tmp_path / "long.toml").write_text(tomli_w.dumps(plan))
    command = [sys.executable, "-c", "from solidcopy.cli.main import main; main()"]
    run = subprocess.Popen(
        [*command, "run", "long.toml", "--workers", "1", "--json"],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert run.stdout is not None
    for line in run.stdout:
        if json.loads(line)["n_done"] > 0:
            break
    run.send_signal(signal.SIGINT)
    _, stderr = run.communicate(timeout=60)
    assert run.returncode == 130
    assert stderr.startswith("stopped: ") and "the same command goes on" in stderr
    status = json.loads(solidcopy("status", "long.toml", "--json", cwd=tmp_path).stdout)
    assert 0 < status["n_done"] < 800
