"""`solidcopy receiver try`: what it shows, what it advises, what it writes down."""

import json
import shlex
import sys
import tomllib
from collections.abc import Iterator
from inspect import isclass
from pathlib import Path
from typing import Any, get_args

import pytest
import typer
from pydantic import BaseModel
from typer.testing import CliRunner

from solidcopy.actions.receiver_options import FIELDS, Given, settings_from
from solidcopy.actions.try_receiver import try_receiver
from solidcopy.cli.main import app
from solidcopy.cli.receiver_wizard import ask_missing
from solidcopy.errors import PlanError
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.trials.plan import read_plan

pytestmark = [
    pytest.mark.derived,
    pytest.mark.skipif(sys.platform == "win32", reason="outside programs need Linux or macOS"),
]

EXAMPLE = Path(__file__).parents[2] / "examples" / "decode_file"
HERE = Path(__file__).parent
LAYOUT = 'heard "{text}" on {audio_hz} Hz, {time_offset_s} s late, SNR {snr_db} dB'
QUICKEST = "belief-propagation"
RUNNER = CliRunner()


def tried(*arguments: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.chdir(folder)
    return RUNNER.invoke(app, ["receiver", "try", *arguments])


def stub(behaviour: str, *arguments: str) -> list[str]:
    command = ["{python}", "-S", "-E", "{plan_folder}/stub_program.py", behaviour, *arguments]
    return [
        "--command",
        shlex.join(command),
        "--line",
        "copied {text} ; {audio_hz} ; {skip} ; {skip}",
    ]


def test_the_example_is_read_and_its_settings_fit_into_a_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "snippet.toml"
    shown = tried(
        "--command", "{python} {plan_folder}/decode_file.py {audio_file} --effort " + QUICKEST,
        "--line", LAYOUT,
        "--snr-reference-hz", "2500", "--name", "ours", "--out", str(out),
        folder=EXAMPLE, monkeypatch=monkeypatch,
    )  # fmt: skip
    assert shown.exit_code == 0, shown.output
    assert shown.output.count(": what was sent") == 2  # the loud and the faint slot
    assert "it wrote nothing, as it should" in shown.output
    assert "Its folder is kept" not in shown.output
    (receiver,) = tomllib.loads(out.read_text(encoding="utf-8"))["receivers"]
    settings = ProgramSettings.model_validate(receiver)
    assert settings.name == "ours"
    assert settings.program_file == "{plan_folder}/decode_file.py"
    example = read_plan(EXAMPLE / "plan.toml").receivers[1]
    assert isinstance(example, ProgramSettings)
    assert (settings.answer, settings.corrections) == (example.answer, example.corrections)
    again = tried(str(out), "--out", str(out), folder=tmp_path, monkeypatch=monkeypatch)
    assert isinstance(again.exception, PlanError) and "exists" in str(again.exception)


def test_a_frequency_of_something_else_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(
        f"""
[[receivers]]
kind = "program"
name = "shifted"
command = ["{{python}}", "{EXAMPLE}/decode_file.py", "{{audio_file}}", "--effort", "{QUICKEST}"]
answer = {{ kind = "lines", pattern = '"(?P<text>.+)" on (?P<audio_hz>\\S+) Hz' }}
corrections = {{ audio_hz_offset = 50.0 }}
working_folder = "kept"
""",
        encoding="utf-8",
    )
    shown = tried(str(file), "--json", folder=tmp_path, monkeypatch=monkeypatch)
    assert shown.exit_code == 1
    facts = json.loads(shown.output)
    assert facts["is_loud_read"] is False
    assert "Hz and +0.00 s off, which does not count" in facts["slots"][0]["decodes"][0]["verdict"]
    assert any("Its folder is kept between trials" in said for said in facts["advice"])
    (advice,) = [said for said in facts["advice"] if "corrections.audio_hz_offset = " in said]
    offset_hz = float(advice.partition("audio_hz_offset = ")[2].split()[0])
    assert abs(offset_hz) < 1.0  # 50 Hz too much were added; 0 would be right


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (stub("good"), "read: \"CQ Q1ABC FN42\", on 1500.0 Hz: not sent: a false decode"),
        (stub("good"), "ignored: started  (does not fit)"),
        (stub("good"), "In noise alone it reported 1"),
        (stub("strange"), "If exit code 77 means that all is well, add it to ok_exit_codes"),
        ([*stub("hang"), "--time-limit-s", "0.3"], "Raise the limit (time)"),
        (stub("tell", "nothing"), "None of its"),
        (stub("start_nothing"), "KeyError"),
        (
            ["--command", "{python} -S -E stub_program.py good", "--line", "{text}"],
            'write "{plan_folder}/stub_program.py"',
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_and_the_exit_code_tells(
    arguments: list[str], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = tried(*arguments, folder=HERE, monkeypatch=monkeypatch)
    assert shown.exit_code == 1, shown.output
    assert said in shown.output
    assert "The loud slot was not read" in shown.output
    assert "[[receivers]]" not in shown.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "no program is named"),
        (["--command", "x"], "nothing says how its decodes are told"),
        (["--command", "'x", "--line", "{text}"], "cannot be split into arguments"),
        (["--command", "no-such-program", "--line", "{text}"], "no program 'no-such-program'"),
        (["--command", "x {y}", "--line", "{text}"], "{y} is not known"),
        (["--command", "x", "--line", "{text}", "--pattern", "x"], "one of --line and --pattern"),
        (["--command", "x", "--line", "{text} {snr_db}"], "by option: --snr-reference-hz"),
        (["--command", "x", "--answer", "columns"], "answer.text"),
        (["--command", "x", "--text-in", "message"], "--answer json-lines or --answer columns"),
        (["--command", "x", "--line", "{text}", "--delimiter", ";"], "several kinds of answer"),
        (["--command", "x", "--line", "{text}", "--environment", "A"], "give NAME=VALUE"),
        (["--command", "x", "--line", "{text}", "--channels", "3"], "by option: --channels"),
        (["none.toml"], "cannot be read"),
        (["stub_program.py"], "is not valid TOML"),
        ([*stub("good"), "--mode", "semaphore"], "mode: 'semaphore' is not known"),
    ],
)
def test_bad_input_is_one_sentence(
    arguments: list[str], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = tried(*arguments, folder=HERE, monkeypatch=monkeypatch)
    assert isinstance(shown.exception, PlanError), shown.output
    assert said in str(shown.exception)
    assert "\n" not in str(shown.exception)


class Person:
    """Answers questions by a word in them; Enter for any other."""

    def __init__(self, **answers: list[Any]) -> None:
        self.answers = answers

    def prompt(self, text: str, default: Any = None, **_: Any) -> Any:
        for word, given in self.answers.items():
            if word in text and given:
                return given.pop(0)
        return default


def asked_of(person: Person, monkeypatch: pytest.MonkeyPatch, folder: Path = HERE) -> Given:
    monkeypatch.chdir(folder)
    monkeypatch.setattr("typer.prompt", person.prompt)
    monkeypatch.setattr("typer.confirm", lambda text, default: default)
    given = ask_missing(Given(), "ft8")
    assert not any(person.answers.values())
    return given


def test_a_person_is_asked_for_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    person = Person(
        command=[stub("good")[1]],
        word=["20-bit", "24-bit"],
        line=["copied {what}", "copied {text} ; {skip} ; {skip} ; {snr_db}"],
        bandwidth=[2500.0],
    )
    given = asked_of(person, monkeypatch)
    assert given.options["line"] == "copied {text} ; {skip} ; {skip} ; {snr_db}"
    assert given.options["snr_reference_hz"] == 2500.0
    settings = settings_from(given)
    assert settings.audio.word_length == "24-bit"
    assert settings.audio.way == "stdin"  # as the command names no file
    assert settings.audio.sample_rate_hz is None


WRITER = """
import sys
text, audio_hz = "Q9PXF Q4CFH QA56", 806.4  # what the wizard sends in its loud slot
said = {
    "json": f'{{"msg": "{text}", "tone": {audio_hz}, "n": 1}}',
    "columns": f"n;tone;msg\\n1;{audio_hz};{text}",
    "line": f"{audio_hz}Hz t=0.26 [{text}] -3dB",
    "capitals": text.lower(),
    "nothing of it": "Q0AAA Q0BBB -10",
    "file": "",
    "errors": "ready",
}[sys.argv[1]]
if sys.argv[1] == "file":
    open("found.txt", "w").write(text)
if sys.argv[1] == "errors":
    print(text, file=sys.stderr)
print(said)
"""


@pytest.fixture
def writer(tmp_path: Path) -> Path:
    """A program that always writes the loud slot's message, each time in another way."""
    (tmp_path / "writer.py").write_text(WRITER, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("way", "answer"),
    [
        ("json", {"kind": "json-lines", "text": "msg", "audio_hz": "tone"}),
        ("columns", {"kind": "columns", "delimiter": ";", "text": "msg", "audio_hz": "tone"}),
        ("line", {"kind": "lines", "layout": "{audio_hz}Hz t={skip} [{text}] {skip}dB"}),
    ],
)
def test_a_person_may_accept_what_is_suggested(
    way: str, answer: dict[str, Any], writer: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    command = "{python} -S -E {plan_folder}/writer.py " + f"{way} " + "{audio_file}"
    given = asked_of(Person(command=[command]), monkeypatch, writer)
    assert settings_from(given).answer.model_dump(exclude_none=True) == answer


@pytest.mark.parametrize(
    ("way", "options", "said"),
    [
        ("line", ["--pattern", r"(?P<audio_hz>\S+)Hz x=\S+ \[(?P<text>.+)\]"],
         [r"fits it as far as: (?P<audio_hz>\S+)Hz ", "and no longer with:           x=",
          "--line '{audio_hz}Hz t={skip} [{text}] {skip}dB'"]),
        ("line", ["--line", "{skip} t={skip} <{text}>"],
         ["The layout fits it as far as: {skip} t={skip}", "and no longer with:           <"]),
        ("json", ["--line", "msg {text}"],
         ["--answer json-lines --text-in msg --audio-hz-in tone"]),
        ("columns", ["--answer", "json-lines"],
         ["--answer columns --delimiter ';' --text-in msg --audio-hz-in tone"]),
        ("columns", ["--answer", "columns", "--text-in", "n", "--delimiter", ";"],
         ["not sent: a false decode", "--text-in msg"]),
        ("capitals", ["--line", "x {text}"], ["other letters or spaces"]),
        ("nothing of it", ["--line", "{text}"], ["stands in none of its lines", "12345 Hz, 24-bit",
         ]),
        ("file", ["--line", "{text}"], ["left found.txt in its folder"]),
        ("errors", ["--line", "x {text}"], ["stands in its standard error"]),
    ],
)  # fmt: skip
def test_an_answer_that_is_not_read_is_shown_with_what_to_do(
    way: str, options: list[str], said: list[str], writer: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    command = "{python} -S -E {plan_folder}/writer.py " + f"'{way}' " + "{audio_file}"
    shown = tried(
        "--command", command, "--sample-rate-hz", "12345", "--word-length", "24-bit", *options,
        folder=writer, monkeypatch=monkeypatch,
    )  # fmt: skip
    assert shown.exit_code == 1, shown.output
    for words in said:
        assert words in shown.output, shown.output


def test_a_program_without_its_sound_is_told_of_standard_input(
    writer: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = tried(
        "--command", "{python} -S -E {plan_folder}/writer.py", "--line", "{text}",
        folder=writer, monkeypatch=monkeypatch,
    )  # fmt: skip
    assert "--sound-by stdin" in shown.output


def leaves(model: type[BaseModel], before: str = "") -> Iterator[str]:
    """Fields of settings, and those of the tables in them."""
    for name, field in model.model_fields.items():
        kinds = [k for k in (field.annotation, *get_args(field.annotation)) if isclass(k)]
        inner = [kind for kind in kinds if issubclass(kind, BaseModel)]
        for kind in inner:
            yield from leaves(kind, f"{name}.")
        if not inner:
            yield before + name


def test_every_field_of_the_settings_has_an_option() -> None:
    by_itself = {"kind", "name", "program_sha256"}  # --name; the digest is measured
    assert set(FIELDS.values()) | by_itself == set(leaves(ProgramSettings))
    group = typer.main.get_command(app)
    options = {p.name: p for p in group.commands["receiver"].commands["try"].params}  # type: ignore[attr-defined]
    for name in FIELDS:
        assert options[name].opts == [f"--{name.replace('_', '-')}"]
        assert options[name].help


EVERYTHING = (
    "--name all --sound-by stdin --sound-name s-{slot_clock}.wav --sample-rate-hz 48000 "
    "--word-length 24-bit --channels 2 --answer columns --delimiter tab --text-in 3 "
    "--snr-db-in 1 --audio-hz-in 2 --time-offset-s-in 4 --answer-file found-{slot_unix_s}.txt "
    "--snr-reference-hz 500 --snr-db-offset 1 --audio-hz-scale 1000 --audio-hz-offset -0.5 "
    "--time-offset-s-scale -1 --time-offset-s-offset 0.25 --environment A=1 --environment B={mode} "
    "--working-folder kept --slot-time 2026-03-01T12:00:00Z --time-limit-s 20 "
    "--memory-limit-mb 300 --output-limit-bytes 5000 --ok-exit-code 0 --ok-exit-code 3 "
    "--at-most-at-once 1 --program-file {plan_folder}/copier.py --program-version 7"
)
COPIER = """
import os, struct, sys
sound = sys.stdin.buffer.read()
channels, rate = struct.unpack_from("<HI", sound, 22)
bits, = struct.unpack_from("<H", sound, 34)
with open(sys.argv[1], "w") as file:
    file.write(f"-3.0\\t0.8064\\tQ9PXF Q4CFH QA56\\t0\\n")
    file.write(f"0\\t1.0\\t{rate} {bits} {channels} {os.environ['A']} {os.environ['B']}\\t0\\n")
sys.exit(3)
"""


def test_settings_from_options_load_in_a_plan_and_give_the_same_outcome(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "copier.py").write_text(COPIER, encoding="utf-8")
    shown = tried(
        "--command", "{python} -S -E {plan_folder}/copier.py {answer_file}",
        *EVERYTHING.split(), "--json", "--out", "mine.toml",
        folder=tmp_path, monkeypatch=monkeypatch,
    )  # fmt: skip
    assert shown.exit_code == 0, shown.output
    loud = json.loads(shown.stdout)["slots"][0]
    assert loud["decodes"][1]["text"] == "48000 24 2 1 ft8"
    example = (EXAMPLE / "plan.toml").read_text(encoding="utf-8").partition("[[receivers]]")[0]
    plan_file = tmp_path / "plan.toml"
    plan_file.write_text(example + (tmp_path / "mine.toml").read_text("utf-8"), encoding="utf-8")
    (settings,) = read_plan(plan_file).receivers
    assert isinstance(settings, ProgramSettings)
    left_at_default = {
        path
        for path, value in flat(settings.model_dump())
        if (path, value) in set(flat(ProgramSettings(**LEAST).model_dump()))
    }
    assert left_at_default == {"kind"}
    again = try_receiver(settings, "ft8", tmp_path, only_loud=True)
    (slot,) = again
    heard = [
        (d.text, d.audio_hz, d.snr_db, d.time_offset_s) for d in slot.hearing.reception.decodes
    ]
    assert heard == [
        (d["text"], d["audio_hz"], d["snr_db"], d["time_offset_s"]) for d in loud["decodes"]
    ]
    assert heard[0][1] == pytest.approx(806.4 - 0.5)
    assert heard[0][2] == pytest.approx(-3.0 + 1.0 - 6.99, abs=0.001)  # 10 log10(2500/500)


LEAST: dict[str, Any] = {
    "name": "x", "command": ["x"], "answer": {"kind": "columns", "text": 1},
}  # fmt: skip


def flat(data: dict[str, Any], before: str = "") -> Iterator[tuple[str, str]]:
    for name, value in data.items():
        if name == "kind" and before:
            continue
        if isinstance(value, dict) and name != "environment":
            yield from flat(value, f"{before}{name}.")
        else:
            yield before + name, repr(value)
