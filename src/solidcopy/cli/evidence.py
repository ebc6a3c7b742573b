"""`solidcopy evidence`: a noise measurement on two pages."""

from pathlib import Path
from typing import Annotated

import typer

from solidcopy.errors import EvidenceError


def evidence(
    description: Annotated[
        Path | None, typer.Argument(help="TOML file that names recordings, place and receiver.")
    ] = None,
    *,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="Folder to write; beside the file if left out."),
    ] = None,
    example: Annotated[
        bool, typer.Option("--example", help="Print a description to begin with, and stop.")
    ] = False,
) -> None:
    """Write a noise measurement on two pages for someone else.

    For a neighbour, a club or an authority: one recording, or two with something switched between
    them, as PDF and HTML: what was found, how sure it is, and what it does not say. evidence.json
    holds every figure.
    """
    from solidcopy.reports.evidence.description import EXAMPLE

    if example:
        typer.echo(EXAMPLE, nl=False)
        return
    if description is None:
        raise EvidenceError(
            "give a description; `solidcopy evidence --example` prints one to begin with"
        )
    from solidcopy.actions.evidence import measure_evidence
    from solidcopy.reports.evidence.words import headline

    measured = measure_evidence(description)
    folder = out or description.with_name(f"{description.stem}-evidence")
    written = measured.write(folder)
    typer.echo(headline(measured.facts))
    for path in written:
        typer.echo(path)
