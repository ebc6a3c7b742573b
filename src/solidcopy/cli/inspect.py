"""`solidcopy inspect`: what is in a recording, and what it is fit for."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.errors import AudioFileError
from solidcopy.noise.reading.answers import Answers, Side


def inspect(
    file: Annotated[Path, typer.Argument(help="A sound file of any kind.")],
    *,
    channel: Annotated[
        str | None, typer.Option("--channel", help="left, right, a number, or sum (their mean).")
    ] = None,
    iq: Annotated[
        Side | None,
        typer.Option("--iq", help="The channels are I and Q; this side of the centre is heard."),
    ] = None,
    join: Annotated[
        bool, typer.Option("--join", help="Join the pieces of sound that stand in the file.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Say what a recording is fit for. What was found comes first, and one question at most."""
    from solidcopy.actions.inspect_recording import answered, inspect_recording

    answers = Answers(channel, iq, join)
    result = inspect_recording(file, answers)
    question = result.question
    if question is not None and not as_json and sys.stdin.isatty() and sys.stdout.isatty():
        typer.echo(result.text())
        answer = typer.prompt(question.sentence, default="", show_default=False)
        if answer:
            result = inspect_recording(file, answered(answers, question, answer))
    typer.echo(json.dumps(result.as_dict(), ensure_ascii=False) if as_json else result.text())
    if not result.is_usable:
        raise typer.Exit(AudioFileError.exit_code)
