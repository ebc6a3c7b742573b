"""`solidcopy duel`: two receivers on the same trials."""

import json
import time
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

LOSS_SHOWN = 10
"""Exit code: the new receiver is shown to lose more than allowed."""
LOSS_OPEN = 11
"""Exit code with --require-proof: that it loses more than allowed is not ruled out."""


def duel(
    source: Annotated[
        Path,
        typer.Argument(
            help="A plan file, which is carried out as far as needed; or a campaign folder, which "
            "is read as it is."
        ),
    ],
    *,
    between: Annotated[
        tuple[str, str] | None,
        typer.Option(help="Two of the plan's receivers, the old one first; its only two if left."),
    ] = None,
    reveal: Annotated[bool, typer.Option("--reveal", help="Show who is A and who is B.")] = False,
    same_message: Annotated[
        str | None,
        typer.Option(help="Run each condition with this message every time as well."),
    ] = None,
    difference_db: Annotated[
        float | None, typer.Option(help="Smallest difference that matters; 0.2 if left out.")
    ] = None,
    allowed_loss_db: Annotated[
        float | None, typer.Option(help="Threshold that the second may lose. Shows the names.")
    ] = None,
    allowed_false_rate: Annotated[
        float | None,
        typer.Option(help="Slots with a false decode that it may add, e.g. 0.01. Shows the names."),
    ] = None,
    risk: Annotated[float, typer.Option(help="Of a wrong verdict on an allowed loss.")] = 0.05,
    require_proof: Annotated[
        bool, typer.Option("--require-proof", help=f"End with {LOSS_OPEN} unless it is ruled out.")
    ] = False,
    workers: Annotated[
        int | None, typer.Option(help="Processes; one for each processor if left out.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Set two receivers against each other, blind. Trial by trial, on the same recordings; ends
    with 10 if an allowed loss is shown to be passed."""
    from solidcopy.actions.duel import DuelRequest, allowed_of, as_dict, conclude_duel, run_duel
    from solidcopy.cli.live import PLAIN_EVERY_S, STOPPED

    request = DuelRequest(
        source=source,
        between=between,
        same_message=same_message,
        difference=difference_db,
        is_seen=reveal,
        allowed=allowed_of(
            allowed_loss_db, allowed_false_rate, risk, is_proof_required=require_proof
        ),
        n_workers=workers,
    )
    try:
        with closing(run_duel(request)) as stream:
            said_s = -PLAIN_EVERY_S
            for progress in stream:
                if progress.is_finished or time.monotonic() - said_s >= PLAIN_EVERY_S:
                    typer.echo(progress.line(), err=True)
                    said_s = time.monotonic()
    except KeyboardInterrupt:
        typer.echo("stopped; the same command goes on", err=True)
        raise typer.Exit(STOPPED) from None
    found = conclude_duel(request)
    typer.echo(json.dumps(as_dict(found)) if as_json else found.text())
    if found.gate is None:
        return
    if found.gate.is_shown:
        raise typer.Exit(LOSS_SHOWN)
    if require_proof and not found.gate.is_ruled_out:
        raise typer.Exit(LOSS_OPEN)
