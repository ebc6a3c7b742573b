"""A known change is found with its interval; what was not taken alike is refused."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy import signal
from typer.testing import CliRunner

from solidcopy.actions.before_after import CompareRequest, answer_of, compare_noise
from solidcopy.cli.main import app
from solidcopy.errors import AudioFileError
from solidcopy.noise.before_after.compare import Change, compare_recordings
from solidcopy.noise.features.figure import CannotTell
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000


def recorded(
    level_db: float,
    *,
    seed: int,
    impulses_per_minute: float = 0.0,
    passband_hz: tuple[float, float] = (250.0, 2850.0),
    duration_s: float = 60.0,
) -> Waveform:
    """Gaussian noise and impulses behind a receiver's filter."""
    generator = np.random.default_rng(seed)
    samples = 0.01 * 10 ** (level_db / 20) * generator.standard_normal(int(duration_s * RATE_HZ))
    n_impulses = round(impulses_per_minute * duration_s / 60.0)
    places = generator.integers(0, samples.size, n_impulses)
    np.add.at(samples, places, generator.choice((-1.0, 1.0), n_impulses))
    sections = signal.butter(6, passband_hz, "bandpass", fs=RATE_HZ, output="sos")
    return Waveform(signal.sosfilt(sections, samples).astype(np.float32), RATE_HZ)


@pytest.mark.derived  # what was put in
def test_a_change_of_level_is_found_in_every_band() -> None:
    found = compare_recordings(recorded(0.0, seed=1), recorded(-6.2, seed=2))
    assert not isinstance(found.floor, CannotTell)
    for change in (found.in_band, found.whole, found.floor, *found.parts):
        assert not isinstance(change.interval, CannotTell)
        assert change.interval[0] < change.difference < change.interval[1]
        # Chance of 1 in 20 each; an interval's width leaves no room for more than this.
        assert change.difference == pytest.approx(-6.2, abs=0.25) and change.is_shown
    assert found.in_band.interval[0] < -6.2 < found.in_band.interval[1]  # type: ignore[index]


@pytest.mark.derived  # power of n values of a band B over D seconds: relative spread 1/sqrt(B D)
def test_the_interval_of_steady_noise_is_that_of_chance() -> None:
    found = compare_recordings(recorded(0.0, seed=3), recorded(0.0, seed=4))
    assert not isinstance(found.in_band.interval, CannotTell)
    half = (found.in_band.interval[1] - found.in_band.interval[0]) / 2.0
    each = 1.0 / np.sqrt(2400.0 * 60.0)
    # Student's t of 7 to 14 degrees instead of 1.96, and correlated halves: up to twice.
    assert 0.8 < half / (1.96 * 10 / np.log(10) * np.sqrt(2.0) * each) < 2.2
    assert not found.in_band.is_shown
    assert "No difference is shown in 300-2700 Hz" in answer_of(found.in_band)


@pytest.mark.derived
def test_a_known_change_of_gain_is_taken_off() -> None:
    before = recorded(0.0, seed=5)
    louder = Waveform(recorded(-3.0, seed=6).samples * np.float32(2.0), RATE_HZ)
    found = compare_recordings(before, louder, gain_change_db=20 * np.log10(2.0))
    assert found.in_band.difference == pytest.approx(-3.0, abs=0.1)


@pytest.mark.derived
def test_impulses_that_went_away() -> None:
    before = recorded(0.0, seed=7, impulses_per_minute=120.0)
    after = recorded(0.0, seed=8)
    found = compare_recordings(before, after)
    assert not isinstance(found.impulse_rate, CannotTell)
    assert not isinstance(found.impulse_rate.interval, CannotTell)
    low, high = found.impulse_rate.interval
    assert low < -119.0 < high and found.impulse_rate.before == pytest.approx(120.0, abs=6.0)
    assert found.impulse_rate.after <= 2.0
    assert isinstance(found.impulse_level, CannotTell)
    same = compare_recordings(after, recorded(0.0, seed=9))
    assert not isinstance(same.impulse_rate, CannotTell) and not same.impulse_rate.is_shown


@pytest.mark.derived
def test_a_level_that_wanders_is_no_sure_difference() -> None:
    """A slow swell: neighbouring seconds count for few independent ones."""
    time_s = np.arange(60 * RATE_HZ) / RATE_HZ
    swell = 1.0 + 0.8 * np.sin(2 * np.pi * time_s / 50.0)
    before = Waveform((recorded(0.0, seed=10).samples * swell).astype(np.float32), RATE_HZ)
    found = compare_recordings(before, recorded(0.0, seed=11))
    assert isinstance(found.in_band.interval, CannotTell)
    assert found.in_band.n_effective[0] < 10 < found.in_band.n_effective[1]
    assert "wanders" in answer_of(found.in_band)


@pytest.mark.derived
@pytest.mark.parametrize(
    ("second", "sentence"),
    [
        (recorded(0.0, seed=12, passband_hz=(400.0, 1600.0)), "use the same filter"),
        (recorded(0.0, seed=12, duration_s=8.0), "the second lasts 8.0 s"),
        (Waveform(np.zeros(60 * RATE_HZ, np.float32), RATE_HZ), "the second is silent"),
        (Waveform(np.zeros(60 * 8000, np.float32), 8000), "12000 samples per second"),
    ],
)
def test_what_was_not_taken_alike_is_refused(second: Waveform, sentence: str) -> None:
    with pytest.raises(AudioFileError, match=sentence):
        compare_recordings(recorded(0.0, seed=13), second)


@pytest.mark.derived
@pytest.mark.parametrize(
    ("interval", "sentence"),
    [
        ((-6.6, -5.8), "The second is 6.2 dB quieter in 300-2700 Hz (95 %: 5.8 to 6.6)."),
        ((0.02, 0.06), "The second is 0.04 dB louder in 300-2700 Hz (95 %: 0.02 to 0.06)."),
        ((-0.4, 0.2), "No difference is shown in 300-2700 Hz: -0.10 dB (95 %: -0.40 to +0.20)."),
    ],
)
def test_the_sentence(interval: tuple[float, float], sentence: str) -> None:
    middle = (interval[0] + interval[1]) / 2.0
    change = Change("300-2700 Hz", -40.0, -40.0 + middle, middle, interval, (60.0, 60.0))
    assert answer_of(change) == sentence


@pytest.mark.derived
def test_command_line(tmp_path: Path) -> None:
    for name, level_db, subtype in (("a", 0.0, "PCM_24"), ("b", -3.0, "PCM_24"), ("c", 0, "FLOAT")):
        samples = recorded(level_db, seed=ord(name)).samples
        soundfile.write(tmp_path / f"{name}.wav", samples, RATE_HZ, subtype=subtype)
    runner = CliRunner()
    files = [str(tmp_path / f"{name}.wav") for name in "abc"]
    shown = runner.invoke(app, ["noise", "compare", *files[:2]])
    assert shown.exit_code == 0 and shown.output.startswith("The second is 3.")
    assert "no file can prove" in shown.output
    shown = runner.invoke(app, ["noise", "compare", *files[:2], "--json", "--gain-change-db", "-3"])
    told = json.loads(shown.output)
    assert abs(told["in_band"]["difference"]) < 0.2 and told["gain_change_db"] == -3.0
    for options, sentence in (
        ([files[0], files[2]], "word length differs"),
        ([*files[:2], "--band", "300"], "give two frequencies like 300-2700"),
        ([*files[:2], "--band", "900-300"], "at least 50 Hz apart"),
    ):
        failed = runner.invoke(app, ["noise", "compare", *options])
        assert isinstance(failed.exception, AudioFileError)
        assert sentence in str(failed.exception)
    with pytest.raises(AudioFileError, match="not fit for measuring"):
        clipped = np.clip(20.0 * recorded(0.0, seed=1).samples, -0.1, 0.1)
        soundfile.write(tmp_path / "d.wav", clipped, RATE_HZ, subtype="PCM_24")
        compare_noise(CompareRequest(tmp_path / "a.wav", tmp_path / "d.wav"))
