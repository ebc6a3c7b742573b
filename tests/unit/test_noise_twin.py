"""A twin of a made recording: its parts, its level, its spectrum and its amplitudes."""

import json
import tomllib
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from noise_mixtures import NOISE_DBFS_IN_2500_HZ, mixed
from report_examples import write_campaign
from solidcopy import units
from solidcopy.actions.noise_twin import TwinRequest, read_over_floor_db, write_twin
from solidcopy.actions.twin_answer import TwinAnswer, read_twin
from solidcopy.actions.twin_plan import TWIN
from solidcopy.errors import CalibrationError, PlanError
from solidcopy.noise.twin.fit import fit_twin
from solidcopy.noise.twin.fitted import Twin, inline
from solidcopy.noise.twin.likeness import Likeness, likeness
from solidcopy.noise.twin.sound import sound_of
from solidcopy.signals.waveform import Waveform
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.trials.plan import parse_plan, read_plan
from twin_sweep import MIXTURES

DURATION_S = 60.0
KEYED = [
    {"kind": "carrier", "audio_hz": 1210.0, "interference_to_noise_db": 3.0},
    {
        "kind": "carrier",
        "audio_hz": 812.0,
        "keying": {"text": "random", "speed_wpm": 18.0},
        "interference_to_noise_db": 0.0,
    },
]
CLICKS = [
    {
        "kind": "impulses",
        "rate_per_s": 20.0,
        "timing": "random",
        "interference_to_noise_db": 10.0,
    }
]
ALL = {**MIXTURES, "keyed": KEYED, "clicks": CLICKS}


@cache
def fitted(name: str) -> tuple[Twin, Likeness]:
    recording = mixed(ALL[name], seed=5, duration_s=DURATION_S).waveform
    twin = fit_twin(recording)
    generator = np.random.default_rng(np.random.SeedSequence(3))
    sound = sound_of(twin, duration_s=DURATION_S, sample_rate_hz=12_000, generator=generator)
    return twin, likeness(recording, sound, twin.passband_hz)


@pytest.mark.derived
@pytest.mark.parametrize("name", ALL)
def test_level_and_floor_are_those_put_in(name: str) -> None:
    twin, found = fitted(name)
    # 0.4 dB: 60 s hold 48 impulses of 2 degrees of freedom in 30 ms bursts of 80 each, and the
    # twin's are drawn anew: 48 * 80 powers, 2 * 10 lg(1 + 1 / 62) = 0.14 dB and a count of +-1.
    assert abs(found.level.difference) < 0.4
    # The floor is the white noise of the mixture; the weakest moments know it within 0.1 dB. With
    # the fence's bursts 6 % of moments are no floor, so the weakest fifth of all is more than a
    # fifth of the rest and lies some 0.2 dB high; twenty clicks a second do more of that.
    floor_dbfs = units.dbfs_from_power(twin.floor_power)
    within_db = {"fence": 0.35, "clicks": 0.5}.get(name, 0.2)
    assert floor_dbfs == pytest.approx(NOISE_DBFS_IN_2500_HZ, abs=within_db)


@pytest.mark.derived
@pytest.mark.parametrize("name", ALL)
def test_every_band_agrees(name: str) -> None:
    _, found = fitted(name)
    # Bands of 312 Hz over 60 s scatter by 0.03 dB in Gaussian noise, twice; a line on an edge or
    # the skirt of the lowest band adds what the straight slope of a comb leaves. Of the fence's
    # bursts a band holds 48 * 0.03 s * 312 Hz = 450 powers, so 0.2 dB each and 0.29 dB between two.
    within_db = 1.0 if name == "fence" else 0.6
    assert max(abs(band.difference) for band in found.bands) < within_db


@pytest.mark.derived
@pytest.mark.parametrize(
    ("name", "within_db"),
    [
        ("Gaussian", 0.15),
        ("hump", 0.25),
        ("keyed", 0.25),
        ("dimmer", 0.6),
        # Phases of a comb without order are drawn anew: its peaks differ by 1 dB and more.
        ("line comb", 1.8),
        # Lengths of bursts are known to a few ms only, so the share of time they fill is too.
        ("fence", 3.0),
        # Impulses that overlap are one to the eye: fewer and stronger ones.
        ("clicks", 2.5),
    ],
)
def test_amplitudes_agree(name: str, within_db: float) -> None:
    _, found = fitted(name)
    assert len(found.amplitudes) == 4  # 60 s say nothing about 0.01 % of the time
    assert max(abs(row.difference) for row in found.amplitudes) < within_db


@pytest.mark.derived
def test_parts_are_the_ones_put_in() -> None:
    def only(name: str) -> dict[str, Any]:
        twin, _ = fitted(name)
        # The feet of a wide hump stand as the shape of the floor.
        (part,) = [part for part in twin.parts if part.group != "shape of the floor"]
        return twin.fields(part)

    assert fitted("Gaussian")[0].parts == ()
    comb, fence, hump, dimmer = (only(name) for name in list(MIXTURES)[1:])
    assert (comb["kind"], comb["n_lines"], comb["phase"]) == ("line-comb", 18, "random")
    assert comb["spacing_hz"] == pytest.approx(120.3, abs=0.01)
    assert comb["slope_db_per_line"] == pytest.approx(-0.3, abs=0.03)
    assert comb["interference_to_noise_db"] == pytest.approx(12.0, abs=0.2)
    assert (fence["kind"], fence["timing"]) == ("impulses", "jittered")
    assert fence["rate_per_s"] == pytest.approx(0.8, abs=0.001)
    # Evenly within 6 ms; the middle of a burst's energy is known to a millisecond or so.
    assert fence["jitter_ms"] == pytest.approx(6.0, abs=2.0)
    assert fence["pulse"]["kind"] == "burst"
    assert fence["pulse"]["length_ms"] == pytest.approx(30.0, rel=0.35)
    assert fence["interference_to_noise_db"] == pytest.approx(15.0, abs=0.4)
    assert hump["kind"] == "switch-mode-hump"
    assert hump["audio_hz"] == pytest.approx(1400.0, abs=5.0)
    assert hump["width_hz"] == pytest.approx(500.0, rel=0.06)
    assert (dimmer["kind"], dimmer["sound"], dimmer["harmonics"]) == ("mains-hum", "buzz", "even")
    assert dimmer["fall_db_per_octave"] == pytest.approx(3.0, abs=0.4)


@pytest.mark.derived
def test_lines_keep_their_keying() -> None:
    twin, _ = fitted("keyed")
    keyed, steady = (twin.fields(part) for part in twin.parts)
    assert keyed["audio_hz"] == pytest.approx(812.0, abs=0.5)
    assert keyed["interference_to_noise_db"] == pytest.approx(0.0, abs=0.4)
    # Frames of 40 ms and more miss short gaps of dots of 67 ms: slower, never faster.
    assert 10.0 < keyed["keying"]["speed_wpm"] < 22.0
    assert "keying" not in steady
    assert steady["interference_to_noise_db"] == pytest.approx(3.0, abs=0.2)


@pytest.mark.derived
def test_inline_tables_are_toml() -> None:
    fields = {"kind": "impulses", "pulse": {"kind": "burst", "length_ms": 2.5}, "text": 'a "b"'}
    assert tomllib.loads(f"x = {inline(fields)}") == {"x": fields}


def request_for(folder: Path, name: str, **changes: Any) -> TwinRequest:
    file = folder / "noise.wav"
    waveform = mixed(ALL[name], seed=5, duration_s=120.0).waveform
    soundfile.write(file, waveform.samples, 12_000, subtype="FLOAT")
    return replace(TwinRequest(file, folder / "twin.toml"), **changes)


@pytest.mark.derived
def test_the_plan_says_what_came_from_where(tmp_path: Path) -> None:
    request = request_for(tmp_path, "keyed", is_each=True)
    found = write_twin(request)
    plan, text = read_plan(request.plan_file), request.plan_file.read_text(encoding="utf-8")
    assert [condition.name for condition in plan.conditions] == [
        "own noise",
        "twin",
        "twin without lines",
    ]
    assert "steady line at 1210.0 Hz" in text and "(sure)" in text
    assert "white floor at" in text
    assert read_over_floor_db(request.plan_file) == pytest.approx(found.twin.over_floor_db)
    assert json.loads(request.fit_file.read_text())["parts"][0]["group"] == "lines"
    assert "difference" in found.text()
    with pytest.raises(PlanError, match="--replace"):
        write_twin(request)


def answered(folder: Path, twin_apart_db: float, *, is_each: bool = False) -> TwinAnswer:
    """Made-up outcomes in a real recording: the twin needs so much more."""
    request = request_for(folder, "keyed", is_each=is_each)
    over_db = write_twin(request).twin.over_floor_db
    data = tomllib.loads(request.plan_file.read_text(encoding="utf-8"))
    data["axis"] = {"start": -32, "stop": -8, "step": 1}
    data["stop"] = {"trials_per_point": 60, "nothing_sent": 0}
    own_db = -22.0
    midpoints = [own_db, own_db + over_db + twin_apart_db]
    midpoints += [midpoints[1] - 2.0] if is_each else []
    campaign = folder / "twin.campaign"
    write_campaign(campaign, parse_plan(data), midpoints, n_trials=60, n_silent=0)
    return read_twin(campaign, over_db)


@pytest.mark.derived
def test_agreement_and_the_cost_of_a_part_are_said(tmp_path: Path) -> None:
    found = answered(tmp_path, 0.0, is_each=True)
    assert "Recording and twin agree" in found.text()
    (part,) = found.parts
    assert part.group == "lines" and not isinstance(part.cost.shift, NoThreshold)
    assert part.cost.shift.value == pytest.approx(2.0, abs=0.5)
    assert "lines: costs " in found.text() and "does not add up" in found.text()


@pytest.mark.derived
def test_a_twin_that_does_not_fit_is_told_from_one_that_does(tmp_path: Path) -> None:
    found = answered(tmp_path, 3.0)
    assert not isinstance(found.apart, NoThreshold)
    assert found.apart.value == pytest.approx(3.0, abs=0.6)
    assert "do not agree: the twin is" in found.text() and "harsher" in found.text()
    assert TWIN in "twin" and found.as_dict()["twin_needs_more_db"]["low"] > 1.5


@pytest.mark.derived
def test_silence_has_no_twin() -> None:
    with pytest.raises(CalibrationError, match="no twin can be made"):
        fit_twin(Waveform(np.zeros(12_000 * 20, np.float32), 12_000))
