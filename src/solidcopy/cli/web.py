"""`solidcopy web`: the bench in the browser."""

import threading
import webbrowser
from pathlib import Path
from typing import Annotated

import typer

DEFAULT_PORT = 8437


def web(
    folder: Annotated[
        Path, typer.Argument(help="Bench folder: plans, campaigns and recordings lie in it.")
    ] = Path("bench"),
    *,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="0: any free one.")
    ] = DEFAULT_PORT,
    address: Annotated[
        str,
        typer.Option(
            "--address", help="Beyond this machine only on purpose: a token is then asked."
        ),
    ] = "127.0.0.1",
    asks_token: Annotated[
        bool,
        typer.Option("--ask-token", help="Ask a token here, too: others log in to this machine."),
    ] = False,
    station_log: Annotated[
        Path | None,
        typer.Option("--station-log", help="Log of the station that campaigns are played to."),
    ] = None,
    is_opened: Annotated[
        bool, typer.Option("--open", help="Open the page in the browser of this machine.")
    ] = False,
) -> None:
    """Serve the bench for the browser, and print its address."""
    from solidcopy.actions.workspace import Workspace
    from solidcopy.errors import WorkspaceError
    from solidcopy.web.serve import is_loopback, serve

    if is_opened and (asks_token or not is_loopback(address)):
        raise WorkspaceError(
            "--open would show the token to whoever lists this machine's processes; leave it out "
            "and open the address that is printed"
        )
    workspace = Workspace.at(folder, station_log=station_log)

    def say(url: str) -> None:
        typer.echo(f"The bench is at {url}  (folder {workspace.folder}; Ctrl-C ends it)")
        if not is_loopback(address):
            typer.echo(
                "It listens beyond this machine. Whoever has the address with its token can run "
                "campaigns here; the connection is not encrypted."
            )
        if is_opened:
            # A browser in the terminal would hold the server up until it ends.
            threading.Thread(target=_open, args=(url,), daemon=True).start()

    serve(workspace, address=address, port=port, asks_token=asks_token, say=say)


def _open(url: str) -> None:
    if not webbrowser.open(url):
        typer.echo("No browser could be opened: open the address yourself.", err=True)
