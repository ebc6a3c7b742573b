"""HTTP/1.1 as the bench speaks it: a head within time, and refusals in the one shape."""

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from solidcopy.web.problems import refusal

HEAD_WITHIN_S = 20.0
"""From the opening of a connection, or the end of the answer before."""


class BenchProtocol(H11Protocol):
    """uvicorn's, which itself waits for ever for the end of a head."""

    _head_timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A client has come."""
        super().connection_made(transport)
        self._expect_head()

    def on_response_complete(self) -> None:
        """A request is answered; another may follow."""
        super().on_response_complete()
        self._expect_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """The client has gone."""
        if self._head_timer is not None:
            self._head_timer.cancel()
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        """What came is no request, or its head is too large; `msg` is uvicorn's word for both."""
        self._refuse(400, "this is no request of HTTP/1.1, or its head is too large")

    def _expect_head(self) -> None:
        if self._head_timer is not None:
            self._head_timer.cancel()
        self._head_timer = self.loop.call_later(HEAD_WITHIN_S, self._give_up)

    def _give_up(self) -> None:
        is_at_work = self.cycle is not None and not self.cycle.response_complete
        if is_at_work or self.transport.is_closing():
            return
        begun, _ = self.conn.trailing_data
        if begun and self.conn.their_state is h11.IDLE:
            self._refuse(408, f"no whole request came within {HEAD_WITHIN_S:g} s")
        else:  # opened ahead of need; or the body of a refused request, which comes for ever
            self.transport.close()

    def _refuse(self, status: int, sentence: str) -> None:
        headers, body = refusal(sentence)
        lines: list[Any] = [b"HTTP/1.1 %d Refused" % status, b"connection: close"]
        lines += [b"%s: %s" % pair for pair in headers]
        self.transport.write(b"\r\n".join([*lines, b"", body]))
        self.transport.close()
