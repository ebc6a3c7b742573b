"""`solidcopy pack` and `solidcopy unpack`: a campaign in one file, for someone else."""

import json
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.cli.campaign import AsJson, Source, Workers

DIFFERS = 10
"""Exit code: something that was made again is not as in the journal."""


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    for command in (pack, unpack):
        app.command(command.__name__)(command)


def pack(
    campaign: Source,
    out: Annotated[
        Path | None, typer.Option("--out", help="The zip file; beside the campaign if left out.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Put a campaign into one file for someone else. Plan, journal, recordings, report, sums.

    A run may be going on meanwhile: the package holds one moment of it.
    """
    from solidcopy.actions.package.pack import pack as pack_campaign

    packed = pack_campaign(campaign, out)
    typer.echo(json.dumps(packed.as_dict()) if as_json else packed.text())


def unpack(
    package: Annotated[Path, typer.Argument(help="A zip file that `solidcopy pack` wrote.")],
    *,
    folder: Annotated[
        Path, typer.Option("--folder", help="Folder to unpack into; here if left out.")
    ] = Path(),
    trials: Annotated[
        int, typer.Option("--trials", min=0, max=100_000, help="How many to make again.")
    ] = 20,
    whole: Annotated[
        bool, typer.Option("--whole", help="Make all of them again; as long as the campaign took.")
    ] = False,
    workers: Workers = None,
    as_json: AsJson = False,
) -> None:
    """Check a package, and make trials of it again. Says what agreed; ends with 10 if not all did.

    Every file is checked by its sum before anything is kept. No program that the package names is
    started.
    """
    from solidcopy.actions.package.again import compare_all, make_all_again, make_some_again
    from solidcopy.actions.package.unpack import unpack as unpack_package
    from solidcopy.cli.live import follow

    unpacked = unpack_package(package, folder)
    if not as_json:
        typer.echo(f"{unpacked.n_files} files, every sum right: {unpacked.folder.resolve()}")
    if whole:
        follow(make_all_again(unpacked, n_workers=workers))
        agreement = compare_all(unpacked)
    elif trials:
        agreement = make_some_again(unpacked, trials)
    else:
        return
    typer.echo(json.dumps(agreement.as_dict()) if as_json else agreement.text())
    if not agreement.is_equal:
        raise typer.Exit(DIFFERS)
