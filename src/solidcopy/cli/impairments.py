"""`solidcopy impairments`: what a plan can do to a signal."""

import json
import textwrap
from typing import Annotated

import typer

WIDTH = 80
"""Columns that every terminal has."""


def impairments(
    kind: Annotated[
        str | None, typer.Argument(help="One of them, with all its numbers; left out: all.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """List the impairments that a plan can name. With a name: explain that one."""
    from solidcopy.actions.list_impairments import FAMILIES, list_impairments, listed_impairment

    chosen = list_impairments() if kind is None else [listed_impairment(kind)]
    if as_json:
        typer.echo(json.dumps([listed.as_dict() for listed in chosen], indent=2))
        return
    if kind is None:
        width = max(len(listed.kind) for listed in chosen)
        for family, (words, _) in FAMILIES.items():
            typer.echo(f"{family}: {words}")
            for listed in chosen:
                if listed.family == family:
                    typer.echo(_wrapped(f"  {listed.kind:{width}}  ", listed.description))
        typer.echo("\nnext: solidcopy impairments KIND  shows all numbers of one of them")
        return
    (listed,) = chosen
    typer.echo(f"{listed.kind} ({FAMILIES[listed.family][0]})")
    typer.echo(_wrapped("", listed.description) + "\n")
    for parameter in listed.parameters:
        default = f"default {parameter.default}" if parameter.default else "must be given"
        typer.echo(_wrapped(f"  {parameter.name}: ", parameter.meaning, indent=6))
        typer.echo(_wrapped("      ", f"{parameter.allowed}; {default}".replace("`", "")))
    typer.echo(f"\nsource: {listed.source}\n\nexample, in a condition of a plan:\n")
    typer.echo("\n".join(listed.example_lines()))


def _wrapped(start: str, text: str, *, indent: int | None = None) -> str:
    """A text behind its start, broken to fit; further lines hang below where it began."""
    hang = " " * (len(start) if indent is None else indent)
    return textwrap.fill(text, WIDTH, initial_indent=start, subsequent_indent=hang)
