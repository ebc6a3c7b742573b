"""`solidcopy cards`: the sound devices of this machine."""

import json
from dataclasses import asdict
from typing import Annotated

import typer


def cards(
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """List the sound devices of this machine.

    Their numbers and names go with --output, --input and --own-ear of other commands.
    """
    from solidcopy.soundcard.card import cards as all_cards

    found = all_cards()
    if as_json:
        typer.echo(json.dumps([asdict(card) for card in found]))
        return
    if not found:
        typer.echo("There is no sound device.")
    for card in found:
        ways = [
            f"{n} {word}{' (the default)' if is_default else ''}"
            for n, word, is_default in (
                (card.n_outputs, "out", card.is_default_output),
                (card.n_inputs, "in", card.is_default_input),
            )
            if n
        ]
        typer.echo(f"{card.number:3d}  {card.name}: {', '.join(ways)}")
