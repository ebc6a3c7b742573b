"""What a recorded noise costs: the plan, the floor, the differences and the words."""

import json
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from noise_mixtures import mixed
from report_examples import write_campaign
from solidcopy.actions.cost_answer import CostAnswer, read_cost
from solidcopy.actions.cost_plan import GAUSSIAN, OWN
from solidcopy.actions.noise_cost import CostRequest, cost_plan, prepare_cost
from solidcopy.errors import AudioFileError, CalibrationError, PlanError
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.noise.features.figure import Figure
from solidcopy.noise.twin.loudness import find_floor, measure_loudness
from solidcopy.reports.measured import Estimate
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.trials.plan import parse_plan, read_plan

FENCE = {
    "kind": "impulses",
    "rate_per_s": 0.8,
    "timing": "periodic",
    "interference_to_noise_db": 10.0,
}
CARRIER = {"kind": "carrier", "audio_hz": 1210.0, "interference_to_noise_db": 3.0}
WHITE_DB, OWN_DB = -21.0, -26.0


def written(path: Path, added: list[dict[str, Any]], *, duration_s: float = 120.0) -> Path:
    waveform = mixed(added, seed=8, duration_s=duration_s).waveform
    soundfile.write(path, waveform.samples, waveform.sample_rate_hz, subtype="FLOAT")
    return path


def request_for(file: Path, **changes: Any) -> CostRequest:
    return replace(CostRequest(file, file.parent / "cost"), **changes)


def over_floor_db(file: Path) -> Figure:
    source = OwnRecording(file=str(file), snr_db=0.0).source(12_000, 180_000)
    found = measure_loudness(source, find_floor(source), (500.0, 2350.0)).over_floor_db
    assert isinstance(found, Figure)
    return found


@pytest.mark.derived
@pytest.mark.parametrize(
    ("added", "expected_db"),
    [
        # The passband passes 200 Hz at -6 dB and 2700 Hz whole, so noise alone loses 100 Hz * 1/2
        # of a skirt (a quarter of the power at the edge): between 0.1 and 0.25 dB of 2500 Hz.
        ([], -0.1),
        # 10 lg(1 + 10) dB and 10 lg(1 + 2) dB; all of the carrier, and all but the skirts of clicks
        # (passband 200 to 2900 Hz), lie between 200 and 2700 Hz: 10 * 2500 / 2700.
        ([FENCE], 10.1),
        ([CARRIER], 4.7),
    ],
)
def test_mean_over_floor(tmp_path: Path, added: list[dict[str, Any]], expected_db: float) -> None:
    assert over_floor_db(written(tmp_path / "noise.wav", added)).value == pytest.approx(
        expected_db, abs=0.35
    )


@pytest.mark.derived
def test_the_plan_can_be_read_and_says_what_equal_power_is(tmp_path: Path) -> None:
    request = request_for(written(tmp_path / 'my "noise".wav', [FENCE]))
    assert prepare_cost(request)
    text = request.plan_file.read_text(encoding="utf-8")
    assert "equal mean power between 200 and 2700 Hz" in text
    plan = read_plan(request.plan_file)
    assert [condition.name for condition in plan.conditions] == [GAUSSIAN, OWN]
    # From its floor alone to Gaussian noise of equal power, with room on both sides.
    assert plan.axis.points()[0] <= -22 - 10 - 4 and plan.axis.points()[-1] >= -22 + 10
    assert not prepare_cost(request)  # what is there stays
    request.plan_file.write_text(text.replace("at_most = 400", "at_most = 50"), encoding="utf-8")
    assert not prepare_cost(request) and read_plan(request.plan_file).stop.at_most == 50


@pytest.mark.derived
def test_remedies_are_conditions_on_the_same_noise(tmp_path: Path) -> None:
    request = request_for(written(tmp_path / "noise.wav", [CARRIER]), has_remedies=True)
    plan = parse_plan(tomllib.loads(cost_plan(request).text()))
    names = [condition.name.removeprefix("own noise, ") for condition in plan.conditions[2:]]
    assert names == ["blanker", "limiter", "automatic notch", "notch at 1210 Hz"]
    assert all(c.added() == plan.conditions[1].added() for c in plan.conditions[2:])
    assert plan.audio.internal_rate_hz == 24_000
    nothing = request_for(written(tmp_path / "white.wav", []), has_remedies=True)
    assert len(cost_plan(nothing).remedies) == 3  # no line, no notch


@pytest.mark.derived
def test_a_narrow_recording_sends_where_it_passes(tmp_path: Path) -> None:
    generator = np.random.default_rng(3)
    spectrum = np.fft.rfft(generator.standard_normal(12_000 * 60))
    hz = np.fft.rfftfreq(12_000 * 60, 1.0 / 12_000)
    spectrum[(hz < 400.0) | (hz > 900.0)] *= 1e-4
    file = tmp_path / "narrow.wav"
    soundfile.write(file, 0.1 * np.fft.irfft(spectrum), 12_000, subtype="FLOAT")
    low_hz, high_hz = cost_plan(request_for(file)).audio_hz
    assert low_hz == 500.0 and 780.0 <= high_hz <= 850.0  # 850 + 50 Hz ends at the edge
    with pytest.raises(CalibrationError, match="would lie between 1500 and 1550 Hz"):
        cost_plan(request_for(file, audio_hz=1500.0))


@pytest.mark.derived
def test_bad_requests_get_one_sentence(tmp_path: Path) -> None:
    short = written(tmp_path / "short.wav", [], duration_s=9.0)
    with pytest.raises(AudioFileError, match=r"lasts 9 s, less than one slot of ft8 \(15 s\)"):
        prepare_cost(request_for(short))
    assert prepare_cost(request_for(short, mode="ft4"))  # its slots last 7.5 s
    silent, lossy = tmp_path / "silent.wav", tmp_path / "lossy.ogg"
    soundfile.write(silent, np.zeros(12_000 * 60), 12_000)
    soundfile.write(lossy, 0.05 * np.random.default_rng(1).standard_normal(720_000), 12_000)
    with pytest.raises(AudioFileError, match="silent"):
        prepare_cost(request_for(silent, out=tmp_path / "b"))
    with pytest.raises(AudioFileError, match="lossy"):
        prepare_cost(request_for(lossy, out=tmp_path / "b"))
    with pytest.raises(PlanError, match="20 or more"):
        prepare_cost(request_for(short, mode="ft4", n_trials=5, out=tmp_path / "b"))
    with pytest.raises(PlanError, match="there is no file nothing"):
        prepare_cost(request_for(short, mode="ft4", receivers=("nothing",), out=tmp_path / "b"))


@pytest.mark.derived
def test_receivers_are_named_or_come_from_a_file(tmp_path: Path) -> None:
    noise = written(tmp_path / "noise.wav", [], duration_s=20.0)
    listed = tmp_path / "mine.toml"
    listed.write_text('[[receivers]]\nkind = "builtin"\nname = "mine"\npasses = 1\n')
    plan = parse_plan(
        tomllib.loads(
            cost_plan(request_for(noise, receivers=("phase-trellis", str(listed)))).text()
        )
    )
    assert [receiver.name for receiver in plan.receivers] == ["phase-trellis", "mine"]


def answered(
    folder: Path, *, midpoints: list[float], duration_s: float, **changes: Any
) -> CostAnswer:
    """A campaign with made-up outcomes in a real recording of a fence."""
    request = request_for(written(folder / "noise.wav", [FENCE], duration_s=duration_s), **changes)
    data = tomllib.loads(cost_plan(request).text())
    data["axis"] = {"start": -32, "stop": -16, "step": 1}
    data["stop"] = {"trials_per_point": 40, "nothing_sent": 5}
    campaign = folder / "cost.campaign"
    write_campaign(campaign, parse_plan(data), midpoints, n_trials=40, n_silent=5)
    return read_cost(campaign)


@pytest.mark.derived
def test_cost_is_the_one_put_in_and_adds_up_with_the_floor(tmp_path: Path) -> None:
    found = answered(tmp_path, midpoints=[WHITE_DB, OWN_DB], duration_s=200.0)
    (heard,) = found.heard
    shift = heard.cost.shift
    assert isinstance(shift, Estimate) and isinstance(found.loudness.over_floor_db, Figure)
    assert abs(shift.value - (OWN_DB - WHITE_DB)) < 2.0 * shift.interval.half_width
    assert shift.interval.half_width < 0.6
    gain = heard.over_own_floor
    # 10 dB more power than the floor, 5 dB of which do not matter: 5 dB to win.
    assert gain is not None
    assert gain.value == pytest.approx(shift.value + found.loudness.over_floor_db.value)
    assert gain.interval.half_width >= shift.interval.half_width
    first, second, *_ = found.sentences()
    assert "dB less signal than in Gaussian noise of equal power (95 %: " in first
    assert "if only that floor remained" in second
    assert found.portions.n_independent == 13 and found.portions.n_stretches == 13
    assert "13 independent portions" in found.text()
    assert json.loads(json.dumps(found.as_dict()))["receivers"][0]["cost_db"]["confidence"] == 0.95


@pytest.mark.derived
def test_a_short_recording_speaks_for_itself_only(tmp_path: Path) -> None:
    found = answered(tmp_path, midpoints=[WHITE_DB, WHITE_DB], duration_s=50.0)
    assert "hold for this very recording, not for the noise at another time" in found.text()
    assert "no difference is shown" in found.sentences()[0]


@pytest.mark.derived
def test_remedies_say_what_they_give_back(tmp_path: Path) -> None:
    found = answered(
        tmp_path,
        midpoints=[WHITE_DB, OWN_DB, OWN_DB - 3.0, OWN_DB, OWN_DB + 2.0],
        duration_s=200.0,
        has_remedies=True,
    )
    blanker, limiter, notch = found.sentences()[2:]
    assert blanker.startswith("Blanker: gives back ") and limiter.startswith("Limiter: no diff")
    assert notch.startswith("Automatic notch: costs ")


@pytest.mark.derived
def test_no_threshold_is_said_with_its_reason(tmp_path: Path) -> None:
    found = answered(tmp_path, midpoints=[WHITE_DB, -60.0], duration_s=100.0)
    (heard,) = found.heard
    assert isinstance(heard.cost.shift, NoThreshold) and heard.over_own_floor is None
    assert "cannot be told yet" in found.sentences()[0]
