"""`solidcopy export`, `merge` and `prune`: what is done with journals beside running them."""

import json
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.cli.campaign import AsJson, Source


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    for command in (export, merge, prune):
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


def merge(
    campaigns: Annotated[
        list[Path], typer.Argument(help="Campaign folders, or their plan files; two or more.")
    ],
    into: Annotated[Path, typer.Option("--into", help="Folder of the new campaign.")],
    keep_first: Annotated[
        bool,
        typer.Option("--keep-first", help="Where they disagree, keep what the first says."),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Make one campaign of several of one plan. Trials that are in several must agree.

    They are only read. The first one's plan is that of the new campaign; plans may differ in
    title, notes, names and when to stop.
    """
    from solidcopy.actions.merge import merge as merge_campaigns

    merged = merge_campaigns(campaigns, into, keep_first=keep_first)
    typer.echo(json.dumps(merged.as_dict()) if as_json else merged.text())


def prune(
    campaign: Source,
    unasked: Annotated[
        bool,
        typer.Option("--unasked", help="Drop outcomes, too, that the plan no longer asks for."),
    ] = False,
    remade: Annotated[
        bool,
        typer.Option(
            "--remade", help="Remove report and kept figures, too; both can be made anew."
        ),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Make a campaign's folder smaller. What its plan asks for stays as it is.

    Left-overs of killed commands go and the journal is packed, which takes as much room again for a
    while. Refused while a run writes into the campaign.
    """
    from solidcopy.actions.prune import PruneWishes
    from solidcopy.actions.prune import prune as prune_campaign

    pruned = prune_campaign(campaign, PruneWishes(unasked, remade))
    typer.echo(json.dumps(pruned.as_dict()) if as_json else pruned.text())
