"""The one thing a person must confirm before a sound is made."""

import sys

import typer

from solidcopy.errors import PlanError


def confirm(statement: str, *, is_said: bool, is_asking: bool = True) -> None:
    """Show what is to be confirmed; go on only if it was.

    Args:
        statement: the text.
        is_said: it was confirmed by an option.
        is_asking: standard input may be read.
    Raises: PlanError where nobody can be asked.
    """
    typer.echo(statement, err=True)
    if is_said:
        return
    if not is_asking or not sys.stdin.isatty():
        raise PlanError("nothing was played: read the above, and add --safe-path if it holds")
    if not typer.confirm("Does all of this hold?", err=True):
        raise typer.Exit(1)
