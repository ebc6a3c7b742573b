"""`solidcopy web`: the bench in the browser."""

from pathlib import Path
from typing import Annotated

import typer

DEFAULT_PORT = 8437


def web(
    folder: Annotated[
        Path, typer.Argument(help="Bench folder: plans, campaigns and recordings lie in it.")
    ] = Path("bench"),
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="0: any free one.")
    ] = DEFAULT_PORT,
    address: Annotated[
        str,
        typer.Option(
            "--address", help="Beyond this machine only on purpose: a token is then asked."
        ),
    ] = "127.0.0.1",
) -> None:
    """Open the bench in the browser. It serves this machine only."""
    from solidcopy.actions.workspace import Workspace
    from solidcopy.web.serve import is_loopback, serve

    workspace = Workspace.at(folder)

    def say(url: str) -> None:
        typer.echo(f"The bench is at {url}  (folder {workspace.folder}; Ctrl-C ends it)")
        if not is_loopback(address):
            typer.echo(
                "It listens beyond this machine. Whoever has the address with its token can run "
                "campaigns here; the connection is not encrypted."
            )

    serve(workspace, address=address, port=port, say=say)
