"""`solidcopy noise cost`: what a recorded noise costs."""

import json
from pathlib import Path
from typing import Annotated

import typer

File = Annotated[Path, typer.Argument(help="Recording of the noise, nothing on the frequency.")]
Mode = Annotated[str, typer.Option("--mode", help="ft8 or ft4.")]
Trials = Annotated[int, typer.Option("--trials", help="Most trials of one curve.")]
Receivers = Annotated[
    list[str] | None,
    typer.Option("--receiver", help="Effort of the built-in one, or a file with [[receivers]]."),
]
AudioHz = Annotated[
    float | None, typer.Option("--audio-hz", help="Send at this place only, not all over the band.")
]
Channel = Annotated[
    int | None, typer.Option("--channel", help="1 = left; needed where channels differ.")
]
Seed = Annotated[int, typer.Option("--seed", help="Root seed of the plan.")]
Workers = Annotated[
    int | None, typer.Option("--workers", help="Processes; one for each processor if left out.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print for a program.")]


def cost(
    file: File,
    *,
    mode: Mode = "ft8",
    trials: Trials = 400,
    receiver: Receivers = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for plan and results; FILE-cost if left.")
    ] = None,
    remedies: Annotated[
        bool, typer.Option("--remedies", help="Try a blanker, a limiter and notches as well.")
    ] = False,
    audio_hz: AudioHz = None,
    channel: Channel = None,
    seed: Seed = 1,
    workers: Workers = None,
    as_json: AsJson = False,
) -> None:
    """Say how many dB a recorded noise costs. It is set beside Gaussian noise of equal power.
    Ctrl-C stops; the same command goes on."""
    from solidcopy.actions.cost_answer import read_cost
    from solidcopy.actions.noise_cost import CostRequest, cost_folder, prepare_cost, run_cost
    from solidcopy.cli.live import follow

    request = CostRequest(
        recording=file,
        out=out or Path(f"{file.stem}-cost"),
        mode=mode,
        n_trials=trials,
        receivers=tuple(receiver or ()),
        has_remedies=remedies,
        audio_hz=audio_hz,
        channel=channel,
        root_seed=seed,
        n_workers=workers,
    )
    is_new = prepare_cost(request)
    typer.echo(f"plan: {request.plan_file} ({'written' if is_new else 'used as it is'})", err=True)
    follow(run_cost(request))
    found = read_cost(cost_folder(request))
    typer.echo(json.dumps(found.as_dict()) if as_json else found.text())
