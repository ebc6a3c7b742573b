"""Serve the bench on a socket of this machine until it is stopped."""

import asyncio
import ipaddress
import secrets
import socket
from collections.abc import Callable

import uvicorn

from solidcopy.actions.workspace import Workspace
from solidcopy.errors import WorkspaceError
from solidcopy.web.app import create_app
from solidcopy.web.protocol import BenchProtocol

LOOPBACK = "127.0.0.1"
ANYWHERE = ("0.0.0.0", "::")


def is_loopback(address: str) -> bool:
    """Whether only this machine reaches an address."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def serve(
    workspace: Workspace,
    *,
    address: str,
    port: int,
    asks_token: bool = False,
    say: Callable[[str], None],
) -> None:
    """Serve until interrupted.

    Args:
        workspace: folder it works on.
        address: IP address to listen on.
        port: 0: any free one.
        asks_token: of every visitor; beyond loopback it is asked in any case.
        say: told the address to open.
    Raises: WorkspaceError if the address or port cannot be had.
    """
    listener = _listener(address, port)
    port = listener.getsockname()[1]
    is_near = is_loopback(address)
    token = secrets.token_urlsafe(24) if asks_token or not is_near else None
    names = [address, "localhost"] if is_near else [address, *_own_addresses(address)]
    hosts = [f"[{name}]:{port}" if ":" in name else f"{name}:{port}" for name in names]
    # Browsers leave the port out where it is the usual one.
    usual = [host.removesuffix(":80") for host in hosts if port == 80]
    app = create_app(workspace, [*hosts, *usual], token=token)
    say(
        f"http://{hosts[-1] if address in ANYWHERE else hosts[0]}/"
        + (f"?token={token}" if token else "")
    )
    config = uvicorn.Config(
        app,
        http=BenchProtocol,
        ws="none",
        log_level="error",  # at "warning" whoever sends rubbish fills the terminal
        server_header=False,
        access_log=False,
    )
    asyncio.run(uvicorn.Server(config).serve(sockets=[listener]))


def _own_addresses(address: str) -> list[str]:
    """What visitors may type where the bench listens on all of this machine's addresses."""
    if address not in ANYWHERE:
        return []
    found = socket.getaddrinfo(socket.gethostname(), None, type=socket.SOCK_STREAM)
    return [socket.gethostname(), *dict.fromkeys(str(entry[4][0]) for entry in found)]


def _listener(address: str, port: int) -> socket.socket:
    try:
        family = socket.AF_INET6 if ipaddress.ip_address(address).version == 6 else socket.AF_INET
        return socket.create_server((address, port), family=family)
    except ValueError:
        raise WorkspaceError(
            f"--address must be an IP address of this machine, not {address!r}"
        ) from None
    except OSError as error:
        raise WorkspaceError(
            f"{address} port {port} cannot be had ({error.strerror}); choose another --port"
        ) from None
