"""`solidcopy receiver try`: what it shows, what it advises, what it writes down."""

import json
import shlex
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

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
        (stub("strange"), "If exit code 77 means that all is well, add it to ok_exit_codes."),
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
        (["--command", "x", "--line", "{text} {snr_db}"], "corrections.snr_reference_hz"),
        (["none.toml"], "cannot be read"),
        (["stub_program.py"], "is not valid TOML"),
        ([*stub("good"), "--mode", "morse"], "mode: 'morse' is not known"),
    ],
)
def test_bad_input_is_one_sentence(
    arguments: list[str], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = tried(*arguments, folder=HERE, monkeypatch=monkeypatch)
    assert isinstance(shown.exception, PlanError), shown.output
    assert said in str(shown.exception)
    assert "\n" not in str(shown.exception)


def test_a_person_is_asked_for_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    from solidcopy.actions.receiver_settings import Given  # noqa: PLC0415

    monkeypatch.chdir(HERE)
    answers = iter([stub("good")[1], "copied {what}", "copied {text} ; {skip} ; {skip} ; {snr_db}"])
    monkeypatch.setattr(
        "typer.prompt",
        lambda text, **options: 2500.0 if "bandwidth" in text else next(answers),
    )
    asked = ask_missing(Given(), "ft8")
    assert asked.line == "copied {text} ; {skip} ; {skip} ; {snr_db}"
    assert asked.snr_reference_hz == 2500.0
    assert next(answers, None) is None
