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
