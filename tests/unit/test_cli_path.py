"""`solidcopy path` without a sound device: the file out, the file back, the refusals."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from solidcopy.cli.main import app
from solidcopy.errors import AudioFileError, CalibrationError, DeviceError, PlanError
from solidcopy.soundcard.card import RATE_HZ
from solidcopy.trials.plan import read_plan

RUNNER = CliRunner()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("path") / "sequence.wav"
    result = RUNNER.invoke(app, ["path", "--made", str(file)])
    assert result.exit_code == 0 and "No transmitter that can radiate" in result.output
    return file


def test_what_was_made_is_heard_as_fit(made: Path) -> None:
    result = RUNNER.invoke(app, ["path", "--heard", str(made), "--json"])
    told = json.loads(result.output)
    assert told["verdict"] == "fit for measuring" and told["findings"] == []
    assert told["latency_s"]["cannot_tell"].startswith("a recording does not say")
    assert abs(told["rate_error_ppm"]["value"]) < 0.05
    assert told["sides"]["left"] == pytest.approx(1.0, abs=0.001)
    assert any("channels of their own" in note for note in told["notes"])


def test_a_telephone_at_44_khz_that_hears_left_only(made: Path, tmp_path: Path) -> None:
    import soxr  # noqa: PLC0415 - not needed elsewhere

    samples, _ = soundfile.read(made)
    heard = tmp_path / "telephone.wav"
    quiet = 0.1 * soxr.resample(samples[:, 0], RATE_HZ, 44_100)
    soundfile.write(heard, np.pad(quiet, (90_000, 50_000)), 44_100)
    result = RUNNER.invoke(app, ["path", "--heard", str(heard)])
    assert result.exit_code == 0
    assert "only the left channel of the output is heard" in result.output
    assert "verdict: fit for measuring" in result.output


def test_left_minus_right_is_named(made: Path, tmp_path: Path) -> None:
    samples, _ = soundfile.read(made)
    heard = tmp_path / "difference.wav"
    soundfile.write(heard, samples[:, 0] - samples[:, 1], RATE_HZ)
    result = RUNNER.invoke(app, ["path", "--heard", str(heard)])
    assert isinstance(result.exception, AudioFileError)
    assert "difference of left and right" in str(result.exception)


def test_a_recording_that_begins_too_late_is_refused(made: Path, tmp_path: Path) -> None:
    samples, _ = soundfile.read(made)
    heard = tmp_path / "late.wav"
    soundfile.write(heard, samples[5 * RATE_HZ :], RATE_HZ)
    result = RUNNER.invoke(app, ["path", "--heard", str(heard)])
    assert isinstance(result.exception, AudioFileError)
    assert "the beginning of the test sequence is missing" in str(result.exception)


PLAN = """
mode = "ft8"
root_seed = 3
axis = { values = [-20] }
stop = { trials_per_point = 4 }

[[conditions]]
name = "quiet"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]  # as in the harbour

[[receivers]]
kind = "station"
listener = "the club's receiver"

[live]
output = "USB codec"
"""


def test_a_plan_keeps_the_level_that_was_checked(made: Path, tmp_path: Path) -> None:
    """Derived: the peak of a sine lies 3.01 dB over its mean power, 8.99 dB below full scale."""
    plan = tmp_path / "live.toml"
    plan.write_text(PLAN)
    result = RUNNER.invoke(app, ["path", "--heard", str(made), "--plan", str(plan)])
    assert result.exit_code == 0 and "play with --gain-db -9.0" in result.output
    live = read_plan(plan).live
    assert live is not None and (live.gain_db, live.output) == (-9.0, "USB codec")
    assert "# as in the harbour" in plan.read_text()


def test_a_path_that_is_not_fit_leaves_the_plan_and_ends_with_1(made: Path, tmp_path: Path) -> None:
    plan = tmp_path / "live.toml"
    plan.write_text(PLAN)
    samples, _ = soundfile.read(made)
    heard = tmp_path / "clipped.wav"
    soundfile.write(heard, np.clip(samples, -0.1, 0.1), RATE_HZ)
    result = RUNNER.invoke(app, ["path", "--heard", str(heard), "--plan", str(plan)])
    assert result.exit_code == 1 and "not fit for measuring" in result.output
    assert plan.read_text() == PLAN


def test_nothing_is_played_unconfirmed() -> None:
    result = RUNNER.invoke(app, ["path", "--output-only"])
    assert isinstance(result.exception, PlanError)
    assert "nothing was played" in str(result.exception)


@pytest.mark.parametrize(
    ("options", "error", "sentence"),
    [
        (["--made", "a.wav", "--heard", "b.wav"], PlanError, "at most"),
        (["--made", "a.wav", "--level-dbfs", "3"], CalibrationError, "-60 to -0.5"),
        (["--made", "/nowhere/at/all.wav"], AudioFileError, "cannot be written"),
        (["--heard", "/nowhere.wav"], AudioFileError, "cannot be read"),
        (["--safe-path", "--output", "no such card"], DeviceError, "no such card"),
    ],
)
def test_refusals(options: list[str], error: type, sentence: str) -> None:
    result = RUNNER.invoke(app, ["path", *options])
    assert isinstance(result.exception, error)
    assert sentence in str(result.exception)
