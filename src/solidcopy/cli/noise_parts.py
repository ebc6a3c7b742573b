"""`solidcopy noise parts`: what a recorded noise is made of, and what may have made it."""

import json
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.noise.reading.answers import Answers, Side


def parts(
    file: Annotated[Path, typer.Argument(help="A sound file of any kind.")],
    *,
    channel: Annotated[
        str | None, typer.Option("--channel", help="left, right, a number, or sum (their mean).")
    ] = None,
    iq: Annotated[
        Side | None,
        typer.Option("--iq", help="The channels are I and Q; this side of the centre is heard."),
    ] = None,
    start_s: Annotated[float, typer.Option("--start-s", min=0.0, help="Begin here.")] = 0.0,
    length_s: Annotated[
        float, typer.Option("--length-s", min=2.0, max=3600.0, help="Look at so many seconds.")
    ] = 600.0,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write a page with pictures into this folder.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Part a recorded noise and name likely kinds of source. Levels, rhythms, what would confirm
    them."""
    from solidcopy.actions.noise_parts import Stretch, noise_parts

    found = noise_parts(file, Answers(channel, iq), Stretch(start_s, length_s))
    typer.echo(json.dumps(found.as_dict(), ensure_ascii=False) if as_json else found.text())
    for path in found.write(out) if out is not None else ():
        typer.echo(path, err=as_json)
