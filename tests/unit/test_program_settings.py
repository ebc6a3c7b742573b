"""Settings of an outside program: templates, what is refused, and what enters the identity."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from solidcopy.errors import PlanError
from solidcopy.receivers.program.command import PLACEHOLDERS, Slot, check_template, filled
from solidcopy.receivers.program.failure import failure_of
from solidcopy.receivers.program.guardian import Ended
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.reports.describe import receiver_facts
from solidcopy.trials.identity import receiver_identity
from solidcopy.trials.plan import parse_plan

pytestmark = pytest.mark.derived

PLAN: dict[str, Any] = {
    "mode": "ft8",
    "root_seed": 1,
    "axis": {"values": [-20.0]},
    "stop": {"trials_per_point": 1},
    "conditions": [
        {"name": "quiet", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]}
    ],
}
PROGRAM: dict[str, Any] = {
    "kind": "program",
    "name": "outside",
    "command": ["decoder", "{audio_file}"],
    "answer": {"kind": "lines", "layout": "copied {text} on {audio_hz}"},
}


def program(**changes: Any) -> ProgramSettings:
    return ProgramSettings.model_validate({**PROGRAM, **changes})


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"command": ["decoder", "{sound}"]}, "receivers[1].command: '{sound}': "),
        ({"command": ["decoder", "{sound}"]}, "{sound} is not known; known are {audio_file}"),
        ({"command": ["decoder", "{audio_file:>9}"]}, "{audio_file:>9} is not known"),
        ({"command": ["decoder", "{"]}, "a single brace"),
        ({"command": []}, "receivers[1].command"),
        ({"command": "decoder {audio_file}"}, "receivers[1].command"),
        ({"command": ["decoder", "{answer_file}"]}, "set answer_file"),
        ({"answer_file": "../out.txt"}, "plain name of a file"),
        ({"answer_file": "out_{audio_file}"}, "{audio_file} is not known"),
        ({"audio": {"file_name": "a/b.wav"}}, "plain name of a file"),
        ({"audio": {"word_length": "8-bit"}}, "receivers[1].audio.word_length"),
        ({"environment": {"A B": "x"}}, "no name of a variable"),
        ({"environment": {"A": "{x}"}}, "{x} is not known"),
        ({"answer": {"kind": "lines"}}, "receivers[1].answer: give one of"),
        ({"answer": {"kind": "lines", "pattern": "(?P<text>"}}, "is not a regular expression"),
        ({"answer": {"kind": "lines", "pattern": "(.+)"}}, "needs the message"),
        ({"answer": {"kind": "lines", "pattern": "(?P<text>.)(?P<hz>.)"}}, "unknown group 'hz'"),
        ({"answer": {"kind": "lines", "layout": "{text} {text}"}}, "{text} stands there twice"),
        ({"answer": {"kind": "lines", "layout": "{words}"}}, "{words} is not known"),
        ({"answer": {"kind": "columns", "text": 0}}, "receivers[1].answer.text"),
        ({"answer": {"kind": "columns", "text": 1, "delimiter": "::"}}, "one letter or"),
        (
            {"answer": {"kind": "columns", "text": 1, "audio_hz": "f"}},
            "all columns by number or all by",
        ),
        (
            {"answer": {"kind": "columns", "text": 2, "audio_hz": 3, "delimiter": "spaces"}},
            "no column may follow",
        ),
        (
            {"answer": {"kind": "lines", "layout": "{text} {snr_db}"}},
            "corrections.snr_reference_hz",
        ),
        ({"answer": {"kind": "json-lines", "snr_db": "snr"}}, "corrections.snr_reference_hz"),
        ({"slot_time": "2026-01-01T00:00:00"}, "needs its zone"),
        ({"ok_exit_codes": []}, "receivers[1].ok_exit_codes"),
        ({"program_sha256": "12"}, "receivers[1].program_sha256"),
        ({"shell": True}, "receivers[1].shell"),
    ],
)
def test_a_fault_is_one_sentence_that_names_the_field(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(PlanError) as caught:
        parse_plan({**PLAN, "receivers": [{**PROGRAM, **changes}]})
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_plan_survives_its_way_to_a_worker() -> None:
    full = {
        **PROGRAM,
        "audio": {"way": "stdin", "sample_rate_hz": 48_000, "word_length": "24-bit"},
        "corrections": {"snr_reference_hz": 3000, "audio_hz_offset": -21.875},
        "environment": {"RATE": "{sample_rate_hz}"},
        "slot_time": "2026-03-01T13:00:00+01:00",
    }
    plan = parse_plan({**PLAN, "receivers": [full]})
    again = type(plan).model_validate_json(plan.model_dump_json())
    assert again == plan
    assert receiver_identity(again.receivers[0]) == receiver_identity(plan.receivers[0])


@pytest.mark.parametrize(
    "changes",
    [
        {"command": ["decoder", "--hard", "{audio_file}"]},
        {"answer": {"kind": "lines", "layout": "copied {text}"}},
        {"audio": {"word_length": "float"}},
        {"corrections": {"audio_hz_offset": 1.0}},
        {"environment": {"A": "1"}},
        {"working_folder": "kept"},
        {"slot_time": "2026-01-01T00:00:15Z"},
        {"time_limit_s": 31.0},
        {"memory_limit_mb": 2001},
        {"output_limit_bytes": 999},
        {"ok_exit_codes": [0, 1]},
        {"program_sha256": "0" * 64},
        {"version": "2"},
    ],
)
def test_what_can_change_an_outcome_is_in_the_identity(changes: dict[str, Any]) -> None:
    assert receiver_identity(program(**changes)) != receiver_identity(program())


@pytest.mark.parametrize("changes", [{"name": "other"}, {"at_most_at_once": 1}])
def test_what_cannot_is_not(changes: dict[str, Any]) -> None:
    assert receiver_identity(program(**changes)) == receiver_identity(program())


def test_a_slot_is_told_in_several_forms() -> None:
    # FT4's second slot of a minute starts at 7.5 s.
    at = datetime(2026, 2, 28, 23, 59, 7, 500_000, tzinfo=UTC)
    values = Slot("ft4", 12_000, 7.5, at).values()
    assert values["slot_time"] == "2026-02-28T23:59:07.500Z"
    assert (values["slot_date"], values["slot_clock"]) == ("20260228", "235907")
    assert float(values["slot_unix_s"]) == at.timestamp()
    assert (values["mode"], values["slot_s"]) == ("ft4", "7.5")


def test_values_are_never_read_as_templates() -> None:
    values = dict.fromkeys(PLACEHOLDERS, "x")
    assert filled("{audio_file}{{mode}}", {**values, "audio_file": "{mode}"}) == "{mode}{mode}"
    assert check_template("no names; $(rm -rf) `x` {{}}") == "no names; $(rm -rf) `x` {{}}"


def test_a_failure_is_bounded_and_hides_the_folder(tmp_path: Path) -> None:
    said = "\n".join(["first", "second", "third", f"fourth in {tmp_path}/slot.wav", ""])
    ended = Ended(exit_code=3)
    failure = failure_of(ended, program(), said=said, folder=str(tmp_path))
    assert failure == (
        "the program ended with exit code 3; it said: second / third / fourth in "
        "{working_folder}/slot.wav"
    )
    long = failure_of(ended, program(), said="x" * 10_000, folder=str(tmp_path))
    assert long is not None and len(long) <= 500
    assert failure_of(ended, program(ok_exit_codes=[3]), said=said, folder="/") is None


def test_a_report_tells_the_settings_but_not_the_folders_of_a_person() -> None:
    settings = program(
        command=["/home/somebody/bin/decoder", "{audio_file}"],
        environment={"RATE": "{sample_rate_hz}"},
        working_folder="kept",
    )
    told = dict(receiver_facts(settings).parts[0].numbers)
    assert told["command"] == "decoder {audio_file}"
    assert told["environment"].startswith("RATE={sample_rate_hz}")
    assert "outcomes then depend on order" in told["working folder"]
    assert "environment" not in dict(receiver_facts(program()).parts[0].numbers)


def test_the_manual_names_every_placeholder() -> None:
    page = Path(__file__).parents[2] / "docs" / "howto" / "outside-program.md"
    told = page.read_text(encoding="utf-8")
    assert [name for name in PLACEHOLDERS if f"`{{{name}}}`" not in told] == []
