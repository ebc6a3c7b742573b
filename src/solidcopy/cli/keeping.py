"""`solidcopy export`, `merge` and `prune`: what is done with journals beside running them."""

import json
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.cli.campaign import AsJson, Source


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    for command in (export,):
        app.command(command.__name__)(command)


def export(
    campaign: Source,
    out: Annotated[Path, typer.Argument(help="The table: FILE.csv or FILE.parquet.")],
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
    as_json: AsJson = False,
) -> None:
    """Write all outcomes as one table for other programs. One trial and receiver a line.

    A run may be going on meanwhile: the table holds one moment of it.
    """
    from solidcopy.actions.export import export as export_outcomes

    exported = export_outcomes(campaign, out, may_replace=replace)
    typer.echo(json.dumps(exported.as_dict()) if as_json else exported.text())
