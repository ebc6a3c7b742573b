"""The questions that `solidcopy receiver try` asks on a terminal, and what it shows."""

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from solidcopy.actions.receiver_options import Given, options_of, options_words
from solidcopy.actions.receiver_settings import NOT_YET, checked_settings, pinned, plan_snippet
from solidcopy.actions.tried_receiver import Tried
from solidcopy.actions.try_receiver import TriedSlot, try_receiver
from solidcopy.errors import PlanError
from solidcopy.receivers.program.command import PLACEHOLDERS
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.program.suggestion import suggested_answer

NOTHING_READ = {"kind": "lines", "pattern": NOT_YET}
"""An answer of which no line is taken for a decode."""


@dataclass(frozen=True, slots=True)
class Snippet:
    """What to do with settings that were tried."""

    plan_folder: Path
    out: Path | None
    may_replace: bool
    as_json: bool


def ask_missing(given: Given, mode: str) -> Given:
    """The same with the answers to what nobody said yet: command, sound, and how it answers."""
    if "command" not in given.data():
        typer.echo("How is the program started for one slot? Names in braces are replaced:")
        for name, words in PLACEHOLDERS.items():
            typer.echo(f"  {{{name}}}: {words}")
        given = _ask_sound(given.also(command=typer.prompt("command")))
    if "answer" in given.data():
        return given
    slot = _first_look(given, mode)
    for line in slot.lines():
        typer.echo(line)
    if not slot.hearing.lines:
        files = ", ".join(slot.hearing.files)
        raise PlanError(
            "it gave nothing to read for a loud slot (see above): mend the command, or name the "
            "file that it writes with --answer-file"
            + (f"; it left in its folder: {files}" if files else "")
        )
    suggested = _suggestion(slot)
    if suggested is not None and suggested["kind"] != "lines":
        options = options_of(suggested)
        if typer.confirm(f"Read it with {options_words(options)}?", default=True):
            return given.also(**options)
    return _ask_line(given, suggested)


def _ask_sound(given: Given) -> Given:
    """How it wants its sound, where no option said so; Enter keeps what is usual."""
    command = given.options["command"]
    usual = {
        "sound_by": "file" if "{audio_file}" in command else "stdin",
        "sample_rate_hz": "as recorded",
        "word_length": "16-bit",
        "channels": "1",
    }
    questions = {
        "sound_by": "sound by file or stdin",
        "sample_rate_hz": "its sample rate, Hz",
        "word_length": "its word length (16-bit, 24-bit, 32-bit, float)",
        "channels": "its channels (1 or 2)",
    }
    for name, question in questions.items():
        if name in given.options:
            continue
        while True:
            said = str(typer.prompt(question, default=usual[name]))
            if said == "as recorded":
                break
            asked = given.also(**{name: int(said) if said.isdecimal() else said})
            try:
                checked_settings({**asked.data(), "answer": NOTHING_READ})
            except PlanError as error:
                typer.echo(f"{error}; try again (Ctrl-C ends)")
                continue
            given = asked
            break
    return given


def _ask_line(given: Given, suggested: dict[str, Any] | None) -> Given:
    """With the layout of a line, asked until it can be used."""
    typer.echo(
        "Write one of its lines with names in braces in place of what differs: {text} and, where "
        "told, {audio_hz}, {time_offset_s}, {snr_db}; {skip} for any other word."
    )
    default = None if suggested is None else suggested.get("layout")
    while True:
        asked = given.also(line=typer.prompt("line", default=default))
        try:
            if "{snr_db}" in asked.options["line"] and "snr_reference_hz" not in asked.options:
                asked = asked.also(
                    snr_reference_hz=typer.prompt(
                        "bandwidth that its SNR refers to, Hz", type=float
                    )
                )
            checked_settings(asked.data())
            return asked
        except PlanError as error:
            typer.echo(f"{error}; try again (Ctrl-C ends)")


def _first_look(given: Given, mode: str) -> TriedSlot:
    """The loud slot, with no line taken for a decode."""
    data = {**given.data(), "answer": NOTHING_READ}
    typer.echo("Starting it once, on a loud slot ...")
    (slot,) = try_receiver(checked_settings(data), mode, given.plan_folder, only_loud=True)
    return slot


def _suggestion(slot: TriedSlot) -> dict[str, Any] | None:
    """How to read the line that holds the sent message."""
    if slot.truth.message is None:
        return None
    return suggested_answer(
        [line.line for line in slot.hearing.lines],
        text=slot.truth.message.text,
        audio_hz=slot.truth.audio_hz,
    )


def conclude_try(settings: ProgramSettings, mode: str, snippet: Snippet) -> bool:
    """Try the program, show everything, and write the settings down if the loud slot was read;
    returns whether it was. Raises PlanError."""
    out = snippet.out
    if out is not None and out.exists() and not snippet.may_replace:
        raise PlanError(f"{out} exists: choose another --out, or add --replace")
    slots = []
    for slot in try_receiver(settings, mode, snippet.plan_folder):
        slots.append(slot)
        if not snippet.as_json:
            typer.echo("\n".join(slot.lines()))
    tried = Tried(settings, snippet.plan_folder, *slots)
    text = plan_snippet(pinned(settings, snippet.plan_folder))
    if snippet.as_json:
        typer.echo(json.dumps({**tried.as_dict(), "plan_snippet": text}, indent=2))
    for said in [] if snippet.as_json else tried.advice():
        typer.echo(f"\n{said}")
    if not tried.loud.is_read:
        return False
    if out is not None:
        try:
            out.write_text(text, encoding="utf-8")
        except OSError as error:
            raise PlanError(f"{out}: cannot be written ({error.strerror})") from None
    if not snippet.as_json:
        if "{plan_folder}" in text or _is_beside_plan(settings.command[0]):
            typer.echo(f"\nThe plan's folder was {snippet.plan_folder}: put the plan there.")
        typer.echo(f"\nwritten to {out}" if out else f"\nfor a plan file:\n\n{text}", nl=bool(out))
    return True


def _is_beside_plan(program: str) -> bool:
    return os.sep in program and not os.path.isabs(program) and "{" not in program
