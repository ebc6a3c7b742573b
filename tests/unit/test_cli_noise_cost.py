"""`solidcopy noise cost` and `solidcopy noise twin` as a person meets them."""

import json
from pathlib import Path

import pytest
import soundfile
from typer.testing import CliRunner

from noise_mixtures import mixed
from solidcopy.cli.main import app
from solidcopy.errors import AudioFileError, PlanError
from solidcopy.trials.plan import read_plan

KEYS = {"over_floor_db", "passband_hz", "unexplained", "parts", "likeness"}


def recording(folder: Path, duration_s: float = 20.0) -> Path:
    made = mixed([], seed=4, duration_s=duration_s).waveform
    path = folder / "noise.wav"
    soundfile.write(path, made.samples, made.sample_rate_hz, subtype="FLOAT")
    return path


@pytest.mark.derived
def test_a_twin_is_written_and_told(tmp_path: Path) -> None:
    plan = tmp_path / "twin.toml"
    given = ["noise", "twin", str(recording(tmp_path)), "--out", str(plan), "--json"]
    told = CliRunner().invoke(app, given)
    assert told.exit_code == 0, told.output
    assert set(json.loads(told.stdout)) == KEYS
    assert len(read_plan(plan).conditions) == 2
    again = CliRunner().invoke(app, given)
    assert isinstance(again.exception, PlanError)


@pytest.mark.derived
def test_a_recording_shorter_than_a_slot_is_refused(tmp_path: Path) -> None:
    short = recording(tmp_path, duration_s=9.0)
    for command in ("cost", "twin"):
        found = CliRunner().invoke(
            app, ["noise", command, str(short), "--out", str(tmp_path / "x.toml")]
        )
        assert isinstance(found.exception, AudioFileError)
        assert "less than one slot of ft8" in str(found.exception)
