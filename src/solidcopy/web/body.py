"""What a request may bring along: so many bytes, in so much time."""

import asyncio
import time

from starlette.types import Message, Receive

PATIENCE_S = 30.0
"""Waited for a body in all, and longer the more of it has come."""
SLOWEST_BYTES_PER_S = 10_000.0


class BodyRefusedError(Exception):
    """More came than allowed, or too slowly."""


class Body:
    """Hands the application a request's body as it comes, until it breaks a limit.

    Only waiting for the client counts, not what the application does between two pieces.
    """

    def __init__(self, receive: Receive, most_bytes: int) -> None:
        """Wrap an ASGI `receive`."""
        self._receive = receive
        self._most_bytes = most_bytes
        self._n_bytes = 0
        self._waited_s = 0.0
        self._is_whole = False
        self.is_too_large = False
        self.is_too_slow = False

    @property
    def is_refused(self) -> bool:
        """Whether a limit was broken; whatever the application answers to the rest is void."""
        return self.is_too_large or self.is_too_slow

    async def receive(self) -> Message:
        """The next piece. Raises BodyRefusedError."""
        if self._is_whole:
            return await self._receive()
        left_s = PATIENCE_S + self._n_bytes / SLOWEST_BYTES_PER_S - self._waited_s
        began_s = time.monotonic()
        try:
            message = await asyncio.wait_for(self._receive(), left_s)
        except TimeoutError:
            self.is_too_slow = True
            raise BodyRefusedError from None
        self._waited_s += time.monotonic() - began_s
        self._n_bytes += len(message.get("body", b""))
        self._is_whole = not message.get("more_body", False)
        if self._n_bytes > self._most_bytes:
            self.is_too_large = True
            raise BodyRefusedError
        return message
