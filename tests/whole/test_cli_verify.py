"""A sound file proves itself, wherever it was copied; what was done to it is told."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from solidcopy.actions.demo import prepare_demo
from solidcopy.actions.make_slots import SlotRequest, make_slots, start_for
from solidcopy.actions.verify import EXIT_CODES, Verdict, Verified, verify
from solidcopy.actions.verify_words import verified_dict, verified_text
from solidcopy.cli.main import app
from solidcopy.signals import riff

PLAN = """
mode = "ft8"
root_seed = 5
axis = { values = [-10] }
stop = { trials_per_point = 2, nothing_sent = 1 }
[[conditions]]
name = "quiet é"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]
[[conditions]]
name = "fence"
impairments = [{ kind = "recording", file = "fence.wav", snr_db = "axis" }]
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Slots as one file, as many, and sealed; the demo's recording."""
    folder = tmp_path_factory.mktemp("certified")
    prepare_demo(folder)
    plan = folder / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    start = start_for(plan, "2026-11-25T18:30:00Z")
    for name, options in (
        ("long", {"every": 2}),
        ("many", {"is_one_file": False, "conditions": ("quiet é",)}),
        ("blind", {"is_blind": True, "conditions": ("quiet é",)}),
    ):
        request = SlotRequest(start, folder / name, per_point=1, nothing_sent=1, **options)
        for _ in make_slots(plan, request):
            pass
    return folder


def alone(path: Path, folder: Path, name: str = "sound.wav") -> Path:
    return Path(shutil.copyfile(path, folder / name))


def rewritten(path: Path, to: Path, change: Callable[[Any], Any], **options: Any) -> Path:
    """The same file with its sound changed by another program, its comment kept."""
    values, rate_hz = soundfile.read(path, dtype="int16")
    soundfile.write(to, change(values), options.pop("rate_hz", rate_hz), **options)
    if to.suffix == ".wav":
        riff.append_comment(to, riff.read_comments(path)[0], software="test")
    return to


def restated(path: Path, to: Path, change: Callable[[dict[str, Any]], None]) -> Path:
    """The same sound with another comment."""
    stated = json.loads(riff.read_comments(path)[0])
    change(stated)
    values, rate_hz = soundfile.read(path, dtype="int16")
    soundfile.write(to, values, rate_hz, subtype="PCM_16")
    riff.append_comment(to, json.dumps(stated), software="test")
    return to


@pytest.mark.derived  # what is made from the same recipe is the same
@pytest.mark.parametrize("name", ["fence.wav", "many/slot-0001.wav", "many/slot-0002.wav"])
def test_a_copy_proves_itself_alone(made: Path, tmp_path: Path, name: str) -> None:
    checked = verify(alone(made / name, tmp_path))
    assert checked.verdict is Verdict.IDENTICAL and checked.reasons == ()
    assert checked.is_digest_as_stated is True
    assert checked.match is not None and checked.match.n_unequal == 0


@pytest.mark.derived
def test_a_long_file_needs_its_recording_whatever_its_name(made: Path, tmp_path: Path) -> None:
    copied = alone(made / "long/slots.wav", tmp_path)
    checked = verify(copied)
    assert checked.verdict is Verdict.NOT_TOLD and checked.is_digest_as_stated is True
    digest = verified_dict(checked)["certificate"]["recipe"]["files"][0]["sha256"]
    assert f"fence.wav is needed (SHA-256 {digest})" in checked.reasons[0]
    shutil.copyfile(made / "fence.wav", tmp_path / "other name.wav")
    checked = verify(copied)
    assert checked.verdict is Verdict.IDENTICAL
    assert checked.match is not None and checked.match.n_made == (7 * 15) * 12_000
    assert str(made) not in json.dumps(verified_dict(checked)["certificate"]["recipe"])


@pytest.mark.derived
def test_sealed_slots_need_their_key(made: Path, tmp_path: Path) -> None:
    path = alone(made / "blind/slots.wav", tmp_path)
    text = riff.read_comments(path)[0]
    assert "quiet" not in text and "-10.0" not in text and '"kind":"sealed"' in text
    checked = verify(path)
    assert checked.verdict is Verdict.NOT_TOLD and "blind-key.json is needed" in checked.reasons[0]
    assert verify(path, recipe=made / "blind-key.json").verdict is Verdict.IDENTICAL
    assert verify(made / "blind/slots.wav").verdict is Verdict.IDENTICAL
    swapped = rewritten(path, tmp_path / "swapped.wav", lambda values: values[::-1])
    assert verify(swapped, recipe=made / "blind-key.json").verdict is Verdict.DIFFERS


@pytest.mark.authority  # a uniform quantiser of step q adds q^2 / 12 (textbook, from memory)
def test_fewer_bits_are_told_as_rounding(made: Path, tmp_path: Path) -> None:
    runner = CliRunner()
    done = runner.invoke(
        app, ["verify", str(made / "many/slot-0001.wav"), "--json"], catch_exceptions=False
    )
    assert done.exit_code == 0
    stated = json.loads(done.stdout)["certificate"]
    stated["samples"] |= {"word": "float32", "sha256": "0" * 64}
    description = tmp_path / "as-float.json"
    certificate = {"kind": "solidcopy certificate", "format": 1, "samples": stated["samples"]}
    description.write_text(json.dumps({"certificate": certificate | {"recipe": stated["recipe"]}}))
    checked = verify(made / "many/slot-0001.wav", recipe=description)
    assert checked.verdict is Verdict.ROUNDED and checked.match is not None
    assert checked.match.n_beyond == 0 and checked.match.largest <= 0.5 / 32768 + 1e-9
    assert checked.facts.samples is not None
    expected = (1.0 / 32768) ** 2 / 12.0 / checked.facts.samples.mean_power
    assert checked.match.residual_ratio == pytest.approx(expected, rel=0.02)
    assert "same within rounding" in verified_text(checked)


@pytest.mark.derived
def test_another_container_is_no_difference(made: Path, tmp_path: Path) -> None:
    source = made / "many/slot-0001.wav"
    flac = rewritten(source, tmp_path / "sound.flac", lambda values: values)
    assert verify(flac).verdict is Verdict.NOT_OURS
    certificate = {"certificate": json.loads(riff.read_comments(source)[0])}
    (tmp_path / "sound.json").write_text(json.dumps(certificate))
    checked = verify(flac)
    assert checked.verdict is Verdict.ROUNDED
    assert checked.match is not None and checked.match.n_unequal == 0
    assert checked.is_digest_as_stated is True and "another container" in verified_text(checked)


def patched(values: np.ndarray) -> np.ndarray:
    values = values.copy()
    values[24_000:24_100] += 100
    return values


@pytest.mark.derived  # half the amplitude: -6.02 dB; 24 000 samples at 12 kHz: 2 s
@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (patched, "100 samples differ by more than a step of 3.1e-05, between 2.0000 s and"),
        (lambda values: values // 2, "it is the same sound -6.02 dB in level"),
        (lambda values: values[:-1200], "1200 samples (0.100 s) are missing at its end"),
        (lambda values: np.append(values, values[:60]), "60 samples (0.005 s) are too many"),
        (lambda values: np.stack([values, values], axis=1), "it has 2 channels; one was made"),
    ],
)
def test_what_was_done_to_a_file_is_told(
    made: Path, tmp_path: Path, change: Callable[[Any], Any], sentence: str
) -> None:
    source = made / "many/slot-0001.wav"
    checked = verify(rewritten(source, tmp_path / "x.wav", change, subtype="PCM_16"))
    assert checked.verdict is Verdict.DIFFERS
    assert sentence in verified_text(checked)


@pytest.mark.derived
def test_a_header_of_another_rate_is_told(made: Path, tmp_path: Path) -> None:
    source = made / "many/slot-0001.wav"
    file = rewritten(source, tmp_path / "x.wav", lambda v: v, subtype="PCM_16", rate_hz=48_000)
    checked = verify(file)
    assert checked.verdict is Verdict.DIFFERS
    assert "its header says 48000 samples per second; 12000 were made" in checked.reasons


def change_snr(stated: dict[str, Any]) -> None:
    stated["recipe"]["slots"][0]["levels"][0] |= {"got_db": -13.0, "asked_db": -13.0}


def change_text(stated: dict[str, Any]) -> None:
    stated["recipe"]["slots"][0]["text"] = "CQ Q1ABC AA00"


def change_peak(stated: dict[str, Any]) -> None:
    stated["samples"]["peak_dbfs"] += 1.0


def newer_recipe(stated: dict[str, Any]) -> None:
    stated["recipe"]["recipes"]["impairment gaussian-noise"] = 9


def older_recipe(stated: dict[str, Any]) -> None:
    stated["recipe"]["recipes"]["mode ft8"] = 0


def unknown_impairment(stated: dict[str, Any]) -> None:
    (condition,) = stated["recipe"]["conditions"].values()
    condition["impairments"][0]["kind"] = "moon-dust"


def newer_format(stated: dict[str, Any]) -> None:
    stated["format"] = 2


def another_seed(stated: dict[str, Any]) -> None:
    stated["recipe"]["root_seed"] += 1


@pytest.mark.derived
@pytest.mark.parametrize(
    ("change", "verdict", "sentence"),
    [
        (change_snr, Verdict.DIFFERS, "asked_db: stated -13.0, is -10.0"),
        (change_text, Verdict.DIFFERS, "text: stated CQ Q1ABC AA00, is "),
        (change_peak, Verdict.DIFFERS, "peak dbfs: "),
        (another_seed, Verdict.DIFFERS, "samples differ by more than a step"),
        (newer_recipe, Verdict.OTHER_RECIPE, "recipe 9, newer than this program's 1"),
        (older_recipe, Verdict.OTHER_RECIPE, "mode ft8: recipe 0, older than this program's"),
        (unknown_impairment, Verdict.OTHER_RECIPE, "says what this program does not know"),
        (newer_format, Verdict.OTHER_RECIPE, "format 2, newer than this program's 1"),
    ],
)
def test_what_a_certificate_says_wrongly_is_told(
    made: Path,
    tmp_path: Path,
    change: Callable[[dict[str, Any]], None],
    verdict: Verdict,
    sentence: str,
) -> None:
    names = [path for path in sorted((made / "many").glob("*.wav")) if _is_sent(path)]
    checked = verify(restated(names[0], tmp_path / "x.wav", change))
    assert checked.verdict is verdict
    assert any(sentence in reason for reason in checked.reasons), checked.reasons


def _is_sent(path: Path) -> bool:
    return json.loads(riff.read_comments(path)[0])["recipe"]["slots"][0]["arm"] == "sent"


def run(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(app, ["verify", *map(str, arguments)])
    return done.exit_code, done.output


@pytest.mark.derived
def test_exit_codes(made: Path, tmp_path: Path) -> None:
    assert EXIT_CODES[Verdict.IDENTICAL] == 0
    assert run(alone(made / "many/slot-0001.wav", tmp_path))[0] == 0
    assert run(alone(made / "long/slots.wav", tmp_path))[0] == 13
    soundfile.write(tmp_path / "own.wav", np.zeros(100), 8000)
    code, shown = run(tmp_path / "own.wav")
    assert code == 11 and "not ours" in shown
    damaged = restated(made / "fence.wav", tmp_path / "d.wav", lambda s: s.pop("samples"))
    with pytest.raises(Exception, match=r"the certificate in the file is damaged \(samples"):
        verify(damaged)


@pytest.mark.derived
def test_a_json_answer_has_no_infinity(made: Path) -> None:
    checked: Verified = verify(made / "fence.wav")
    assert json.loads(json.dumps(verified_dict(checked), allow_nan=False))["match"] is not None
