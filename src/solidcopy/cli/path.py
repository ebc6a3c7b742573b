"""`solidcopy path`: what a path of sound does to what is sent through it."""

import json
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.cli.confirm import confirm
from solidcopy.errors import PlanError

NOT_FIT = 1
"""Exit code."""


def path(
    *,
    output: Annotated[
        str | None, typer.Option("--output", help="Sound output by number or name (see `cards`).")
    ] = None,
    source: Annotated[
        str | None, typer.Option("--input", help="Sound input by number or name (see `cards`).")
    ] = None,
    output_only: Annotated[
        bool, typer.Option("--output-only", help="Play the test sequence, record nothing.")
    ] = False,
    made: Annotated[
        Path | None, typer.Option("--made", help="Write the test sequence to this WAV file.")
    ] = None,
    heard: Annotated[
        Path | None, typer.Option("--heard", help="Judge by this recording of the sequence.")
    ] = None,
    level_dbfs: Annotated[
        float, typer.Option("--level-dbfs", help="Level of the loudest tone as sent.")
    ] = -12.0,
    snr_db: Annotated[
        float, typer.Option("--snr-db", help="Highest SNR in 2500 Hz of the trials to be played.")
    ] = 0.0,
    plan: Annotated[
        Path | None,
        typer.Option("--plan", help="Keep output and level in this plan, for `solidcopy play`."),
    ] = None,
    safe_path: Annotated[
        bool,
        typer.Option("--safe-path", help="You have read what is to be confirmed, and it holds."),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Check a path of sound: output, cable or air, input. Takes 50 s; quiet at first.

    Plays steps, two tones, a chirp and noise, and says what the path does to them, what to change,
    and whether it is fit for measuring. Exit code 1: it is not.
    """
    from solidcopy.actions import path_check
    from solidcopy.actions.live_plan import keep_level
    from solidcopy.actions.live_plan import statement as statement_of
    from solidcopy.trials.plan import read_plan

    if plan is not None:
        known = read_plan(plan).live
        output = output or (known.output or None if known else None)
    _refuse_two_ways(output_only, made, heard)
    statement = statement_of(output)
    if made is not None:
        path_check.write_sequence(made, level_dbfs=level_dbfs)
        typer.echo(f"{made}: the test sequence, stereo, 48 000 Hz\n" + statement)
        return
    if heard is not None:
        result = path_check.check_recording(heard, level_dbfs=level_dbfs, asked_snr_db=snr_db)
    else:
        confirm(statement, is_said=safe_path)
        if output_only:
            typer.echo(path_check.play_sequence(output, level_dbfs=level_dbfs))
            return
        result = path_check.check_devices(
            output, source, level_dbfs=level_dbfs, asked_snr_db=snr_db
        )
    typer.echo(json.dumps(result.as_dict(), ensure_ascii=False) if as_json else result.text())
    if result.gain_db is None:
        raise typer.Exit(NOT_FIT)
    if plan is not None:
        keep_level(plan, output=output, gain_db=result.gain_db)
        typer.echo(f"{plan}: keeps this level and output", err=as_json)


def _refuse_two_ways(output_only: bool, made: Path | None, heard: Path | None) -> None:
    if sum((output_only, made is not None, heard is not None)) > 1:
        raise PlanError("give one of --output-only, --made and --heard at most")
