"""`solidcopy verify`: is this file what it says it is?"""

import json
from pathlib import Path
from typing import Annotated

import typer


def verify(
    file: Annotated[Path, typer.Argument(help="A sound file that solidcopy made, or its copy.")],
    *,
    recipe: Annotated[
        Path | None,
        typer.Option("--recipe", help="The JSON description or key, if it is not in the file."),
    ] = None,
    recordings: Annotated[
        Path | None,
        typer.Option("--recordings", help="Folder with recordings that the making needs."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Prove a sound file by its recipe. It is measured again, made anew, and the samples compared.

    Exit codes: 0 identical, or the same within rounding; 10 differs; 11 not ours; 12 another
    recipe or format than this program's; 13 something that the making needs is missing.
    """
    from solidcopy.actions.verify import EXIT_CODES
    from solidcopy.actions.verify import verify as verify_file
    from solidcopy.actions.verify_words import verified_dict, verified_text

    verified = verify_file(file, recipe=recipe, recordings=recordings)
    typer.echo(json.dumps(verified_dict(verified)) if as_json else verified_text(verified))
    raise typer.Exit(EXIT_CODES[verified.verdict])
