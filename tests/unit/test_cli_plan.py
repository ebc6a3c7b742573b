"""`solidcopy plan`: starting plans that run, checks that name the fault."""

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from solidcopy.actions.new_plan import Question, starting_plan, write_new_plan
from solidcopy.cli.main import app
from solidcopy.errors import AudioFileError, PlanError
from solidcopy.signals.audio_file import write_audio
from solidcopy.trials.plan import read_plan

RUNNER = CliRunner()


@pytest.fixture
def own_noise(tmp_path: Path) -> Path:
    path = tmp_path / "own noise.wav"
    samples = 0.05 * np.random.default_rng(5).standard_normal(20 * 12_000)
    write_audio(path, samples, sample_rate_hz=12_000, subtype="PCM_16")
    return path


@pytest.mark.parametrize("question", list(Question))
def test_a_starting_plan_is_a_valid_plan(question: Question, own_noise: Path) -> None:
    out = own_noise.parent / "plan.toml"
    recording = own_noise if question is Question.RECORDING else None
    write_new_plan(question, out, recording=recording)
    plan = read_plan(out)
    assert plan.title and len(plan.axis.points()) >= 10
    n_lines = len(starting_plan(question, recording=recording).splitlines())
    assert n_lines <= 50  # a question in some twenty lines, the rest is comment


def test_a_starting_plan_does_not_overwrite(tmp_path: Path) -> None:
    out = tmp_path / "plan.toml"
    write_new_plan(Question.NOISE, out)
    with pytest.raises(PlanError, match="exists"):
        write_new_plan(Question.NOISE, out)
    write_new_plan(Question.NOISE, out, may_replace=True)


def test_the_recording_question_needs_a_recording(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="add --recording FILE"):
        write_new_plan(Question.RECORDING, tmp_path / "a.toml")
    with pytest.raises(PlanError, match="takes no --recording"):
        write_new_plan(Question.NOISE, tmp_path / "a.toml", recording=tmp_path / "none.wav")


def test_a_file_that_is_no_recording_is_refused_at_once(tmp_path: Path) -> None:
    fake = tmp_path / "fake.wav"
    fake.write_text("no sound in here")
    with pytest.raises(AudioFileError):
        write_new_plan(Question.RECORDING, tmp_path / "a.toml", recording=fake)
    assert not (tmp_path / "a.toml").exists()


def test_check_says_what_it_costs(tmp_path: Path) -> None:
    out = tmp_path / "plan.toml"
    assert RUNNER.invoke(app, ["plan", "new", "carrier", "--out", str(out)]).exit_code == 0
    shown = RUNNER.invoke(app, ["plan", "check", str(out)])
    assert shown.exit_code == 0
    assert "condition 2: steady carrier inside the signal" in shown.output
    # 3 conditions x (12 points x 60 trials + 60 trials with nothing sent)
    assert "at most 2340 trials" in shown.output
    facts = json.loads(RUNNER.invoke(app, ["plan", "check", str(out), "--json"]).output)
    assert facts["n_trials_at_most"] == 2340
    assert facts["seconds_per_trial"] > 0


def test_schema_is_json() -> None:
    schema = json.loads(RUNNER.invoke(app, ["plan", "schema"]).output)
    assert {"mode", "root_seed", "axis", "stop", "conditions"} <= set(schema["properties"])


def test_bad_use_exits_with_2() -> None:
    assert RUNNER.invoke(app, ["plan", "new", "colour"]).exit_code == 2
