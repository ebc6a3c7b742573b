"""The `solidcopy` command: parse, call one action, present."""

import sys

import typer

from solidcopy import __version__
from solidcopy.cli import campaign, decide, keeping, log, noise, package, plan, receiver
from solidcopy.cli.capture import capture
from solidcopy.cli.cards import cards
from solidcopy.cli.duel import duel
from solidcopy.cli.evidence import evidence
from solidcopy.cli.impairments import impairments
from solidcopy.cli.inspect import inspect
from solidcopy.cli.path import path
from solidcopy.cli.play import play
from solidcopy.cli.verify import verify
from solidcopy.cli.web import web
from solidcopy.errors import SolidcopyError

app = typer.Typer(
    name="solidcopy",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Measure how much noise and interference a weak-signal digital mode stands. "
    "Test signals and impairments belong on a cable, a dummy load or in a file, never on the air.",
)
app.add_typer(plan.app, name="plan")
app.add_typer(log.app, name="log")
app.add_typer(receiver.app, name="receiver")
app.add_typer(noise.app, name="noise")
app.add_typer(decide.app, name="decide")
campaign.register(app)
package.register(app)
keeping.register(app)
app.command("duel")(duel)
app.command("evidence")(evidence)
app.command("impairments")(impairments)
app.command("verify")(verify)
app.command("inspect")(inspect)
app.command("path")(path)
app.command("play")(play)
app.command("capture")(capture)
app.command("cards")(cards)
app.command("web")(web)


def _print_version(asked: bool) -> None:
    if asked:
        typer.echo(f"solidcopy {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: bool = typer.Option(
        False, "--version", callback=_print_version, is_eager=True, help="Print the version."
    ),
) -> None:
    """Options before the command."""


def main() -> None:
    """Entry point: an error that a user can mend is one line and an exit code of its class."""
    try:
        app()
    except SolidcopyError as error:
        print(f"solidcopy: {error}", file=sys.stderr)
        sys.exit(error.exit_code)
