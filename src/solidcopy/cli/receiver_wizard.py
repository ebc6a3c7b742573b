"""The questions that `solidcopy receiver try` asks on a terminal, and what it shows."""

import json
from dataclasses import dataclass, replace
from pathlib import Path

import typer

from solidcopy.actions.receiver_settings import (
    NOT_YET,
    Given,
    checked_settings,
    pinned,
    plan_snippet,
)
from solidcopy.actions.try_receiver import Tried, TriedSlot, try_receiver
from solidcopy.errors import PlanError
from solidcopy.receivers.program.command import PLACEHOLDERS
from solidcopy.receivers.program.layout import suggested_layout
from solidcopy.receivers.program.settings import ProgramSettings


@dataclass(frozen=True, slots=True)
class Snippet:
    """What to do with settings that were tried."""

    plan_folder: Path
    out: Path | None
    may_replace: bool
    as_json: bool


def ask_missing(given: Given, mode: str) -> Given:
    """The same with the answers to what nobody said yet: the command, and the layout of a line."""
    if "command" not in given.data():
        typer.echo("How is the program started for one slot? Names in braces are replaced:")
        for name, words in PLACEHOLDERS.items():
            typer.echo(f"  {{{name}}}: {words}")
        given = replace(given, command=typer.prompt("command"))
    if "answer" in given.data():
        return given
    slot = _first_look(given, mode)
    for line in slot.lines():
        typer.echo(line)
    if not slot.hearing.lines:
        raise PlanError(
            "it gave nothing to read for a loud slot (see above): mend the command, or name the "
            "file that it writes with --answer-file"
        )
    typer.echo(
        "Write one of its lines with names in braces in place of what differs: {text} and, where "
        "told, {audio_hz}, {time_offset_s}, {snr_db}; {skip} for any other word."
    )
    while True:
        asked = replace(given, line=typer.prompt("line", default=_suggestion(slot)))
        try:
            if "{snr_db}" in (asked.line or "") and asked.snr_reference_hz is None:
                asked = replace(
                    asked,
                    snr_reference_hz=typer.prompt(
                        "bandwidth that its SNR refers to, Hz", type=float
                    ),
                )
            checked_settings(asked.data())
            return asked
        except PlanError as error:
            typer.echo(f"{error}; try again (Ctrl-C ends)")


def _first_look(given: Given, mode: str) -> TriedSlot:
    """The loud slot, with no line taken for a decode."""
    data = {**given.data(), "answer": {"kind": "lines", "pattern": NOT_YET}}
    typer.echo("Starting it once, on a loud slot ...")
    (slot,) = try_receiver(checked_settings(data), mode, given.plan_folder, only_loud=True)
    return slot


def _suggestion(slot: TriedSlot) -> str | None:
    """The layout of the line that holds the sent message."""
    if slot.truth.message is None:
        return None
    text, audio_hz = slot.truth.message.text, slot.truth.audio_hz
    layouts = (
        suggested_layout(line.line, text=text, audio_hz=audio_hz) for line in slot.hearing.lines
    )
    return next((layout for layout in layouts if layout is not None), None)


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
        if "{plan_folder}" in text:
            typer.echo(f"\n{{plan_folder}} was {snippet.plan_folder}: put the plan there.")
        typer.echo(f"\nwritten to {out}" if out else f"\nfor a plan file:\n\n{text}", nl=bool(out))
    return True
