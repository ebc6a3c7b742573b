"""`solidcopy noise compare`: before and after."""

import json
from pathlib import Path
from typing import Annotated

import typer


def compare(
    before: Annotated[Path, typer.Argument(help="The first recording.")],
    after: Annotated[Path, typer.Argument(help="The second, taken the same way.")],
    *,
    band: Annotated[
        str, typer.Option("--band", help="Of the answer, e.g. 300-2700; what both have if left.")
    ] = "",
    gain_change_db: Annotated[
        float | None,
        typer.Option("--gain-change-db", help="If the gain was raised from first to second."),
    ] = None,
    channel: Annotated[
        str | None, typer.Option("--channel", help="Of both: left, right, a number, or sum.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write a page with a picture into this folder.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Say how much quieter the second of two recordings is. Or louder, how sure that is, and what
    became of each part."""
    from solidcopy.actions.before_after import CompareRequest, compare_noise

    compared = compare_noise(CompareRequest(before, after, band, gain_change_db, channel))
    typer.echo(json.dumps(compared.as_dict()) if as_json else compared.text())
    for path in compared.write(out) if out is not None else ():
        typer.echo(path, err=as_json)
