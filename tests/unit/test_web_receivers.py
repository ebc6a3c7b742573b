"""Receivers of the bench: what a page may have tried, and the command that a person types instead.

The shell that reads the composed command is the real one of this machine.
"""

import json
import stat
import subprocess
import sys

import pytest

from solidcopy.actions.bench_receivers import SETTINGS, known_receivers, why_not
from solidcopy.actions.edit_plan import save_plan
from solidcopy.actions.new_plan import Question, starting_plan
from solidcopy.actions.receiver_command import composed_command
from solidcopy.actions.receiver_settings import pinned, plan_snippet
from solidcopy.actions.try_from_page import try_builtin, try_known
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import NotThereError, PlanError, WorkspaceError
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.python_receiver import PythonSettings

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="programs need Linux or macOS")


@pytest.fixture
def space(tmp_path):
    return Workspace.at(tmp_path / "bench")


@pytest.fixture
def program(space):
    """A program that leaves a mark and reports nothing."""
    file = space.folder / "listener"
    file.write_text(f"#!/bin/sh\necho started >> {space.folder / 'mark'}\n", encoding="utf-8")
    file.chmod(file.stat().st_mode | stat.S_IXUSR)
    return ProgramSettings(
        name="listener",
        command=("{plan_folder}/listener", "{audio_file}"),
        answer={"kind": "lines", "layout": "{text}"},
    )


def written(space, settings):
    (space.folder / SETTINGS).mkdir(exist_ok=True)
    (space.folder / SETTINGS / "listener.toml").write_text(plan_snippet(settings), encoding="utf-8")


def test_what_was_tried_at_the_command_line_may_be_tried_again(space, program):
    written(space, pinned(program, space.folder))
    (one,) = known_receivers(space)[0]
    assert (one.name, one.kind, one.is_plan, one.why_not) == ("listener", "program", False, "")
    tried = try_known(space, "listener", 1, is_plan=False)
    assert [slot.name for slot in tried.slots] == ["loud", "faint", "noise"]
    assert [slot.is_as_it_should for slot in tried.slots] == [False, True, True]
    assert "was not read" in tried.advice[0]
    assert (space.folder / "mark").read_text() == 3 * "started\n"


def test_another_program_under_its_name_is_not_started(space, program):
    written(space, pinned(program, space.folder))
    with (space.folder / "listener").open("a") as file:
        file.write("# changed\n")
    assert "another one" in known_receivers(space)[0][0].why_not
    with pytest.raises(PlanError, match="another one"):
        try_known(space, "listener", 1, is_plan=False)
    assert not (space.folder / "mark").exists()


def test_a_program_that_nobody_tried_is_not_started(space, program):
    written(space, program)
    with pytest.raises(PlanError, match="solidcopy receiver try"):
        try_known(space, "listener", 1, is_plan=False)
    assert not (space.folder / "mark").exists()


def test_python_code_is_not_started_from_a_page(space):
    settings = PythonSettings(name="mine", load="mine:Receiver")
    assert "command line only" in why_not(settings, space.folder)


def test_a_page_cannot_write_a_program_into_a_plan(space, program):
    plan = space.folder / "first.toml"
    plan.write_text(starting_plan(Question.NOISE), encoding="utf-8")
    text = plan.read_text() + "\n" + plan_snippet(pinned(program, space.folder))
    with pytest.raises(PlanError, match="command line"):
        save_plan(space, "first", text)
    assert {one.kind for one in known_receivers(space)[0]} == {"builtin"}


@pytest.mark.parametrize("name", ["../first", "/etc/passwd", "", "a/b"])
def test_settings_are_named_not_reached(space, name):
    (space.folder / "first.toml").write_text(starting_plan(Question.NOISE), encoding="utf-8")
    with pytest.raises(WorkspaceError):
        try_known(space, name, 1, is_plan=False)
    with pytest.raises(NotThereError, match="no number 9"):
        try_known(space, "first", 9, is_plan=True)


def test_a_link_out_of_the_bench_is_no_settings_file(space, program, tmp_path):
    written(space, pinned(program, space.folder))
    outside = tmp_path / "outside.toml"
    (space.folder / SETTINGS / "listener.toml").rename(outside)
    (space.folder / SETTINGS / "listener.toml").symlink_to(outside)
    assert known_receivers(space)[0] == []
    with pytest.raises(NotThereError):
        try_known(space, "listener", 1, is_plan=False)


def test_what_cannot_be_read_is_said_and_hides_nothing_else(space):
    (space.folder / "first.toml").write_text(starting_plan(Question.NOISE), encoding="utf-8")
    (space.folder / "second.toml").write_text("mode = ", encoding="utf-8")
    known, troubles = known_receivers(space)
    assert [one.file for one in known] == ["first"]
    assert len(troubles) == 1 and troubles[0].startswith("second.toml: ")


def test_the_built_in_receiver_reads_what_is_known_to_be_readable():
    tried = try_builtin(BuiltinSettings(effort="belief-propagation", passes=1), "ft8")
    loud, faint, noise = tried.slots
    assert loud.is_read and loud.is_as_it_should and "what was sent" in loud.lines[0]
    assert faint.is_as_it_should
    assert noise.is_as_it_should and noise.lines == ("it reported nothing, as it should",)
    assert all(0.0 < slot.elapsed_s < 60.0 for slot in tried.slots)


def typed(space, command):
    """What the shell makes of a command, with a program that prints its arguments in its place."""
    show = f"{sys.executable} -c 'import json, sys; print(json.dumps(sys.argv[1:]))'"
    assert command.count("&& solidcopy ") == 1
    done = subprocess.run(
        ["/bin/sh", "-c", command.replace("&& solidcopy ", f"&& {show} ")],
        capture_output=True,
        text=True,
        check=True,
        cwd="/",
    )
    return json.loads(done.stdout)


def test_the_command_is_quoted_for_a_shell(space):
    nasty = "./my decoder '{audio_file}' \"$(touch owned)\" `touch owned`; touch owned & #"
    line = "{text} | $HOME ~ * \\ '"
    options = {"command": nasty, "line": line, "sample_rate_hz": 48_000}
    found = composed_command(space, "--replace; touch owned", "ft4", options)
    words = typed(space, found.command)
    assert words == [
        "receiver",
        "try",
        "--name=--replace; touch owned",
        "--mode=ft4",
        f"--command={nasty}",
        "--sample-rate-hz=48000",
        f"--line={line}",
        "--out=receivers/replace- touch owned.toml",
    ]
    assert not list(space.folder.rglob("owned"))
    assert (space.folder / SETTINGS).is_dir()


def test_what_is_not_said_is_asked_at_the_terminal(space):
    found = composed_command(space, "mine", "ft8", {"command": "./decoder {audio_file}"})
    assert "--line" not in found.command
    assert "asks which of them is a decode" in found.notes[0]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({}, "Give its command"),
        ({"command": "'"}, "cannot be split"),
        ({"command": "./d", "line": "{snr_db} {text}"}, "--snr-reference-hz"),
        ({"command": "./d", "sample_rate_hz": -1}, "--sample-rate-hz"),
        ({"command": "./d", "line": "no name"}, "text"),
    ],
)
def test_what_the_command_would_refuse_is_said_before(space, options, words):
    with pytest.raises(PlanError, match=words):
        composed_command(space, "mine", "ft8", options)
