"""Parts of two recordings are matched, and a known change of one of them is read with its error."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from noise_mixtures import mixed
from noise_pulses import HeardFence
from noise_trial import carrier, hump
from solidcopy.cli.main import app
from solidcopy.noise.before_after.by_part import Fate, PartChange, changes_by_part
from solidcopy.noise.before_after.match import best_match, matched, unlikeness
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.noise.parts.part import Part, PartKind, Times
from solidcopy.signals.audio_file import write_audio
from solidcopy.signals.waveform import Waveform

FENCE = HeardFence(1.27, 6.0, jitter_s=0.003, n_discharges=8, discharges_mean_s=0.08)
QUIETER_DB = 7.0


def part(kind: PartKind, **fields) -> Part:
    given = {"power": 1e-4, "level_error_db": 0.05, "band_hz": (200.0, 2900.0), "p_chance": 0.0}
    return Part(kind=kind, times=Times(0.0, 30.0, 1.0), **(given | fields))


def train(period_s: float, error_s: float = 1e-4) -> Part:
    rhythm = Figure(1.0 / period_s, error_s / period_s**2)
    return part(PartKind.PERIODIC_IMPULSES, rhythm_hz=rhythm)


def line(at_hz: float, kind: PartKind = PartKind.STEADY_LINE) -> Part:
    return part(kind, band_hz=(at_hz - 1.0, at_hz + 1.0), frequencies_hz=(at_hz,))


@pytest.fixture(scope="module")
def recordings() -> tuple[Waveform, Waveform]:
    before = [FENCE, hump(1900.0, 200.0, 0.0)[0]]
    quieter = replace(FENCE, interference_to_noise_db=6.0 - QUIETER_DB)
    after = [quieter, carrier(1500.0, -6.0)[0]]
    return tuple(
        mixed(added, seed=seed, duration_s=35.0).waveform
        for added, seed in ((before, 31), (after, 32))
    )


@pytest.fixture(scope="module")
def changes(recordings: tuple[Waveform, Waveform]) -> tuple[PartChange, ...]:
    return changes_by_part(*recordings)


@pytest.mark.derived  # what was put in
def test_each_part_has_its_fate(changes: tuple[PartChange, ...]) -> None:
    told = {change.part.kind: change for change in changes}
    assert len(told) == len(changes) == 4
    assert told[PartKind.PERIODIC_IMPULSES].fate is Fate.QUIETER
    assert told[PartKind.HUMP].fate is Fate.GONE and told[PartKind.HUMP].after is None
    assert told[PartKind.STEADY_LINE].fate is Fate.NEW
    assert told[PartKind.FLOOR].fate is Fate.SAME


@pytest.mark.derived
def test_a_known_change_lies_within_its_interval(changes: tuple[PartChange, ...]) -> None:
    told = {change.part.kind: change for change in changes}
    for kind, put_in_db in ((PartKind.PERIODIC_IMPULSES, -QUIETER_DB), (PartKind.FLOOR, 0.0)):
        interval = told[kind].interval_db
        assert not isinstance(interval, CannotTell)
        # Discharges are drawn anew in each recording: within a fence some tenths of a dB.
        assert interval[0] < put_in_db < interval[1]
        assert interval[1] - interval[0] < 3.0


@pytest.mark.derived
def test_a_change_of_gain_is_taken_off(recordings: tuple[Waveform, Waveform]) -> None:
    before, after = recordings
    louder = Waveform(2.0 * after.samples, after.sample_rate_hz)
    for change in changes_by_part(before, louder, gain=4.0):
        if change.part.kind is PartKind.PERIODIC_IMPULSES:
            assert change.difference_db == pytest.approx(-QUIETER_DB, abs=0.8)


@pytest.mark.derived
def test_near_periods_are_matched_to_their_own() -> None:
    before, after = (train(1.20), train(1.27)), (train(1.272), train(1.199), train(2.0))
    pairs = matched(before, after)
    assert (before[0], after[1]) in pairs and (before[1], after[0]) in pairs
    assert (None, after[2]) in pairs and len(pairs) == 3


def test_what_is_alike_and_what_is_not() -> None:
    assert unlikeness(line(900.0), line(902.0, PartKind.KEYED_LINE)) < 1.0
    assert best_match(line(900.0), (line(920.0), line(903.0))) is not None
    assert best_match(line(900.0), (line(920.0), train(1.2))) is None
    one, other = (part(PartKind.HUMP, band_hz=band) for band in ((900, 1100), (1050, 1300)))
    assert best_match(one, (other,)) is None
    assert best_match(part(PartKind.FLOOR), (part(PartKind.FLOOR),)) is not None


def test_short_recordings_say_that_they_cannot_tell(
    recordings: tuple[Waveform, Waveform],
) -> None:
    short = [Waveform(one.samples[: 22 * 12_000], 12_000) for one in recordings]
    told = {change.part.kind: change for change in changes_by_part(*short)}
    assert told[PartKind.FLOOR].fate is Fate.UNSURE
    assert isinstance(told[PartKind.FLOOR].interval_db, CannotTell)
    assert "30 s" in told[PartKind.FLOOR].interval_db.reason


def test_text_json_and_page(recordings: tuple[Waveform, Waveform], tmp_path: Path) -> None:
    files = [tmp_path / "before.wav", tmp_path / "after <b>.wav"]
    for path, waveform in zip(files, recordings, strict=True):
        write_audio(path, waveform.samples, sample_rate_hz=12_000, subtype="PCM_24")
    asked = ["noise", "compare", *map(str, files), "--out", str(tmp_path / "page"), "--json"]
    told = json.loads(CliRunner().invoke(app, asked).stdout)
    fates = {one["kind"]: one["fate"] for one in told["parts"]}
    assert fates["hump of noise"] == "gone" and fates["periodic impulses"] == "quieter"
    html = (tmp_path / "page" / "noise-change.html").read_text(encoding="utf-8")
    for words in ("after &lt;b&gt;.wav", "hump of noise", "gone", "By part"):
        assert words in html
    assert "<script" not in html and "noise-change.json" in html
    written = {path.name for path in (tmp_path / "page").iterdir()}
    assert written == {"noise-change.html", "noise-change.svg", "noise-change.json"}
