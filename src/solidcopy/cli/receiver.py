"""`solidcopy receiver`: make ready what is put under test."""

import sys
from pathlib import Path
from typing import Annotated

import typer

NOT_READ = 1
"""Exit code if the loud slot was not read."""

app = typer.Typer(no_args_is_help=True, help="Make receivers ready for a test.")


@app.callback()
def options() -> None:
    """Make receivers ready for a test."""


@app.command("try")
def try_program(  # noqa: PLR0917
    settings: Annotated[
        Path | None, typer.Argument(help="A plan, or a file with [[receivers]]; else options.")
    ] = None,
    name: Annotated[
        str | None,
        typer.Option("--name", help="Of the receiver; needed if a file has several."),
    ] = None,
    command: Annotated[
        str | None,
        typer.Option(
            "--command",
            help="The program and its arguments, e.g. './decoder {audio_file}'; quotes hold one "
            "argument together, no shell is run.",
        ),
    ] = None,
    line: Annotated[
        str | None,
        typer.Option(
            "--line", help="Layout of a line with a decode, e.g. '{audio_hz} Hz {skip} {text}'."
        ),
    ] = None,
    pattern: Annotated[
        str | None,
        typer.Option("--pattern", help="The same as a regular expression, e.g. '(?P<text>Q.+)'."),
    ] = None,
    snr_reference_hz: Annotated[
        float | None,
        typer.Option("--snr-reference-hz", help="Bandwidth that its SNR refers to, if it is read."),
    ] = None,
    sample_rate_hz: Annotated[
        int | None, typer.Option("--sample-rate-hz", help="Of the sound file it wants.")
    ] = None,
    answer_file: Annotated[
        str | None,
        typer.Option("--answer-file", help="Name of the file it writes its decodes to."),
    ] = None,
    time_limit_s: Annotated[
        float | None, typer.Option("--time-limit-s", help="A slower answer is a failure.")
    ] = None,
    mode: Annotated[
        str | None, typer.Option("--mode", help="Of the slots; the plan's, or ft8, if left out.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the settings there, for a plan.")
    ] = None,
    may_replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Try an outside program on three slots. A loud, a faint and a noise-only one; asks what is
    missing."""
    from solidcopy.receivers.program.system import check_system

    check_system()
    from solidcopy.actions.receiver_settings import Given, settings_from
    from solidcopy.cli.receiver_wizard import Snippet, ask_missing, conclude_try

    given = Given(
        file=settings,
        name=name,
        command=command,
        line=line,
        pattern=pattern,
        snr_reference_hz=snr_reference_hz,
        sample_rate_hz=sample_rate_hz,
        answer_file=answer_file,
        time_limit_s=time_limit_s,
    )
    mode_name = mode or given.mode
    if sys.stdin.isatty() and not as_json:
        given = ask_missing(given, mode_name)
    chosen = settings_from(given)
    if not conclude_try(chosen, mode_name, Snippet(given.plan_folder, out, may_replace, as_json)):
        raise typer.Exit(NOT_READ)
