"""Requests byte by byte, as no well-behaved client sends them."""

import socket
import time
from dataclasses import dataclass, field

ANSWER_WITHIN_S = 30.0


@dataclass(frozen=True)
class Answer:
    """What came back until the connection was closed."""

    status: int
    """0: closed without an answer."""
    headers: dict[str, str] = field(default_factory=dict)
    body: bytes = b""


def head(method: str, target: str, headers: dict[str, str | None]) -> bytes:
    """First lines of a request; a header that is None is left out."""
    lines = [f"{method} {target} HTTP/1.1"]
    lines += [f"{name}: {value}" for name, value in headers.items() if value is not None]
    return "\r\n".join([*lines, "connection: close", "", ""]).encode("latin-1")


def send(port: int, pieces: list[bytes], *, pause_s: float = 0.0) -> Answer:
    """Send pieces to this machine, with pauses between them, and read to the end."""
    with socket.create_connection(("127.0.0.1", port), timeout=ANSWER_WITHIN_S) as line:
        for place, piece in enumerate(pieces):
            if place and pause_s:
                time.sleep(pause_s)
            try:
                line.sendall(piece)
            except (BrokenPipeError, ConnectionResetError):
                break  # it has answered already and hung up
        return _read(line)


def _read(line: socket.socket) -> Answer:
    got = b""
    try:
        while piece := line.recv(1 << 16):
            got += piece
    except ConnectionResetError:
        pass
    if not got:
        return Answer(0)
    lines, _, body = got.partition(b"\r\n\r\n")
    first, *rest = lines.decode("latin-1").split("\r\n")
    pairs = (one.partition(": ") for one in rest)
    return Answer(int(first.split()[1]), {name.lower(): value for name, _, value in pairs}, body)
