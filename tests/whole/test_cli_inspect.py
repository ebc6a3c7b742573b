"""Inspect recordings by the command: what is printed, asked, and told to a program."""

import contextlib
import io
import json
import re
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from solidcopy.actions.inspect_recording import answered
from solidcopy.cli.main import main
from solidcopy.noise.reading import Answers, Question, Side
from torture_sounds import RATE_HZ, noise, tone, with_hole

pytestmark = pytest.mark.derived  # each file is made beside its check


def inspect(*arguments: str | Path) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr(sys, "argv", ["solidcopy", "inspect", *map(str, arguments)])
        try:
            main()
        except SystemExit as ended:
            code = int(ended.code or 0)
    return code, out.getvalue(), err.getvalue()


@pytest.fixture
def evening(tmp_path: Path) -> Path:
    """Two channels, one silent; a gap, and pulses that were clipped."""
    path = tmp_path / "evening.wav"
    left = with_hole(noise(), 12_000, np.zeros(360))
    left = with_hole(left, 40_000, np.ones(18))
    soundfile.write(path, np.stack((left, 0.0 * left), axis=1), RATE_HZ, subtype="PCM_24")
    return path


def test_it_says_first_what_was_found(evening: Path) -> None:
    code, out, err = inspect(evening)
    assert (code, err) == (0, "")
    first, left, right, *rest, last = out.splitlines()
    assert first == (
        f"{evening}: WAV, 12 000 Hz, 24-bit, 2 channels, 5.00 s, right silent, 0.03 % clipped, "
        "1 gap"
    )
    assert left.startswith("  left: level −1")
    assert right == "  right: silent"
    assert "  1 gap, 0.03 s in all, at 1.00 s" in rest
    assert last == "verdict: fit for finding sources only: 0.03 % clipped"


def test_fields_for_a_program(evening: Path) -> None:
    code, out, _ = inspect(evening, "--json")
    told = json.loads(out)
    assert code == 0
    assert (told["verdict"], told["reasons"]) == ("sources-only", ["0.03 % clipped"])
    assert (told["sample_rate_hz"], told["n_channels"], told["n_samples"]) == (12_000, 2, 60_000)
    left, right = told["channels"]
    assert (left["n_clipped"], left["n_clipped_runs"]) == (18, 1)
    assert left["first_clipped_s"] == [pytest.approx(40_000 / RATE_HZ)]
    assert left["still"] == [{"start_s": 1.0, "length_s": 0.03, "value": 0.0}]
    assert right["is_silent"] and right["power_dbfs"] is None
    assert told["question"] is None


def test_one_question_and_its_answer(tmp_path: Path) -> None:
    path = tmp_path / "pair.wav"
    pair = np.stack((tone(), tone(0.25, n_cycles=1_001)), axis=1)
    soundfile.write(path, pair, RATE_HZ)
    _, out, _ = inspect(path)
    assert out.count("question: ") == 1
    assert "  answer with --channel" in out
    code, out, _ = inspect(path, "--channel", "right")
    assert code == 0
    assert "question:" not in out
    assert "right 6.0 dB weaker); right is taken" in out


@pytest.mark.parametrize(
    ("make", "arguments", "sentence"),
    [
        (lambda path: None, (), "cannot be read (No such file or directory)"),
        (lambda path: path.mkdir(), (), "cannot be read (Is a directory)"),
        (lambda path: path.write_bytes(b"RIFF"), (), "is no sound file that can be read"),
        (
            lambda path: soundfile.write(path, with_hole(tone(), 6_000, np.nan), RATE_HZ, "FLOAT"),
            (),
            "a sample is no number (NaN) at 0.500 s",
        ),
        (
            lambda path: soundfile.write(path, tone(), RATE_HZ),
            ("--channel", "rihgt"),
            'there is no channel "rihgt"; give 1',
        ),
        (
            lambda path: soundfile.write(path, tone(), RATE_HZ),
            ("--channel", "left", "--iq", "upper"),
            "--channel and --iq exclude each other",
        ),
    ],
)
def test_what_cannot_be_used_is_one_sentence(tmp_path, make, arguments, sentence) -> None:
    path = tmp_path / "odd.wav"
    make(path)
    code, out, err = inspect(path, *arguments)
    assert (code, out) == (5, "")
    assert sentence in err
    assert err.count("\n") == 1


def test_silence_is_told_and_ends_with_an_error(tmp_path: Path) -> None:
    path = tmp_path / "silent.wav"
    soundfile.write(path, np.zeros(12_000), RATE_HZ)
    code, out, _ = inspect(path)
    assert code == 5
    assert out.splitlines()[-1] == "verdict: not fit: silent"
    assert inspect(path, "--json")[0] == 5


def test_every_kind_of_finding_and_every_field_is_documented(evening: Path) -> None:
    root = Path(__file__).parents[2]
    page = (root / "docs/howto/inspect-a-recording.md").read_text(encoding="utf-8")
    source = "".join(
        path.read_text(encoding="utf-8")
        for folder in ("signals/sound_file", "noise/reading", "noise/health")
        for path in (root / "src/solidcopy" / folder).glob("*.py")
    )
    kinds = set(re.findall(r'\bFinding\(\s*"([a-z-]+)"', source))
    assert len(kinds) > 20
    assert {kind for kind in kinds if f"`{kind}`" not in page} == set()
    told = json.loads(inspect(evening, "--json")[1])
    fields = {*told, *told["channels"][0], *told["findings"][0]} - {"made_by", "file"}
    assert {field for field in fields if f"`{field}`" not in page} == set()


@pytest.mark.parametrize(
    ("option", "typed", "answers"),
    [
        ("--channel", " Right ", Answers(channel="right")),
        ("--channel", "upper", Answers(iq=Side.UPPER)),
        ("--iq", "lower", Answers(iq=Side.LOWER)),
        ("--iq", "left", Answers(channel="left")),
        ("--join", "yes", Answers(join=True)),
        ("--join", "no", Answers()),
    ],
)
def test_what_is_typed_as_an_answer(option: str, typed: str, answers: Answers) -> None:
    assert answered(Answers(), Question("?", option), typed) == answers
