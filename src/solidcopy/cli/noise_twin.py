"""`solidcopy noise twin`: a recorded noise in numbers."""

import json
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.cli.noise_cost import AsJson, AudioHz, Channel, File, Mode, Seed, Trials, Workers


def twin(
    file: File,
    *,
    out: Annotated[Path, typer.Option("--out", help="Plan file that is written.")] = Path(
        "twin.toml"
    ),
    check: Annotated[
        bool,
        typer.Option("--check", help="Hold it to the recording: run a receiver on both."),
    ] = False,
    each: Annotated[
        bool, typer.Option("--each", help="And take out one part at a time: what does it cost?")
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="Write over a plan that is there.")
    ] = False,
    mode: Mode = "ft8",
    trials: Trials = 400,
    audio_hz: AudioHz = None,
    channel: Channel = None,
    seed: Seed = 1,
    workers: Workers = None,
    as_json: AsJson = False,
) -> None:
    """Write a plan that stands for a recorded noise. Each impairment says where it came from."""
    from solidcopy.actions.noise_twin import (
        TwinRequest,
        read_over_floor_db,
        run_twin,
        twin_folder,
        write_twin,
    )
    from solidcopy.actions.twin_answer import read_twin
    from solidcopy.cli.live import follow

    request = TwinRequest(
        recording=file,
        plan_file=out,
        mode=mode,
        n_trials=trials,
        is_each=each,
        audio_hz=audio_hz,
        channel=channel,
        root_seed=seed,
        n_workers=workers,
        may_replace=replace,
    )
    is_checked = check or each
    if not (is_checked and out.exists() and not replace):
        fitted = write_twin(request)
        if not (is_checked and as_json):
            typer.echo(json.dumps(fitted.as_dict()) if as_json else fitted.text())
        typer.echo(f"plan: {out}", err=True)
    if is_checked:
        follow(run_twin(request))
        found = read_twin(twin_folder(request), read_over_floor_db(out))
        typer.echo(json.dumps(found.as_dict()) if as_json else found.text())
