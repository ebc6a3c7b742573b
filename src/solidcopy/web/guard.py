"""Who may speak to the bench: this machine's own pages, and nobody else's.

A page of somebody else's, open in the same browser, can send requests to 127.0.0.1. It cannot set
the Host header to our name unless its name was pointed here (DNS rebinding), cannot hide its
Origin, and cannot read the key that every changing request carries. Source of the rules: Fetch
standard (Origin, Sec-Fetch-Site) and W3C Content Security Policy level 3; from memory.
"""

import contextlib
import hmac
from collections.abc import MutableMapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Receive, Scope, Send

from solidcopy.web.body import Body, BodyRefusedError
from solidcopy.web.headers import HEADERS
from solidcopy.web.problems import refusal

KEY_HEADER = "x-bench-key"
TOKEN_FIELD = "token"
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
MOST_BODY_BYTES = 2_000_000
"""Of a request that is no upload of a recording."""
UPLOADS = "/api/recordings/"
INTERFACE = "/api/"


@dataclass(frozen=True, slots=True)
class GuardSettings:
    """What is let in.

    Args:
        hosts: "name:port" as browsers write it.
        key: in every page; every request that changes something carries it.
        token: asked once of everybody; None on the loopback address.
        most_upload_bytes: of a recording.
    """

    hosts: frozenset[str]
    key: str
    token: str | None = None
    most_upload_bytes: int = 16_000_000_000


class Guard:
    """Outermost layer: refuses what is foreign, and sets the headers of every answer."""

    def __init__(self, app: ASGIApp, settings: GuardSettings) -> None:
        """Wrap an application."""
        self._app = app
        self._settings = settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """ASGI."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = self._refused(scope, headers)
        if refused is not None:
            await _answer(send, *refused)
            return
        if self._settings.token is not None and _is_arrival(scope):
            await self._let_in(scope, headers, send)
            return
        body = Body(receive, self._most_bytes(scope))

        async def send_more(message: MutableMapping[str, Any]) -> None:
            if body.is_refused:
                return  # what the application makes of the broken body
            if message["type"] == "http.response.start":
                set_headers = MutableHeaders(raw=message["headers"])
                for name, value in HEADERS.items():
                    set_headers.setdefault(name, value)
            await send(message)

        with contextlib.suppress(BodyRefusedError):
            await self._app(scope, body.receive, send_more)
        if body.is_too_large:
            await _answer(send, 413, _too_large(scope))
        elif body.is_too_slow:
            await _answer(send, 408, "the request came too slowly and was given up")

    async def _let_in(self, scope: Scope, headers: Headers, send: Send) -> None:
        """Move the token from the address, where it can be seen, into a cookie."""
        query = [(name, value) for name, value in _query(scope) if name != TOKEN_FIELD]
        # More than one slash of either kind in front would lead to another host.
        path = "/" + scope["raw_path"].decode("ascii").lstrip("/\\")
        address = path + (f"?{urlencode(query)}" if query else "")
        cookie = (
            f"{_cookie_name(headers)}={self._settings.token}; HttpOnly; SameSite=Strict; Path=/"
        )
        raw, _ = refusal("")
        kept = [pair for pair in raw if not pair[0].startswith(b"content-")]
        raw = [*kept, (b"location", address.encode()), (b"set-cookie", cookie.encode())]
        await send({"type": "http.response.start", "status": 303, "headers": raw})
        await send({"type": "http.response.body", "body": b""})

    def _refused(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """Status and sentence of the first rule that is broken."""
        length = headers.get("content-length", "0")
        rules = (
            (
                400,
                headers.get("host") in self._settings.hosts,
                "this bench answers only under the address that it printed at its start",
            ),
            (403, _is_own_page(scope, headers), "a page of another origin may not use this bench"),
            (
                401,
                self._has_token(scope, headers),
                "open the whole address with the token that the bench printed at its start",
            ),
            (
                403,
                scope["method"] in SAFE_METHODS or self._has_key(headers),
                f"a request that changes something needs the page's key ({KEY_HEADER})",
            ),
            (413, length.isdecimal() and int(length) <= self._most_bytes(scope), _too_large(scope)),
        )
        return next(((status, words) for status, is_kept, words in rules if not is_kept), None)

    def _has_key(self, headers: Headers) -> bool:
        given = headers.get(KEY_HEADER, "")
        return hmac.compare_digest(given.encode(), self._settings.key.encode())

    def _has_token(self, scope: Scope, headers: Headers) -> bool:
        token = self._settings.token
        if token is None:
            return True
        given = [value for name, value in _query(scope) if name == TOKEN_FIELD]
        given.append(cookie_parser(headers.get("cookie", "")).get(_cookie_name(headers), ""))
        return any(hmac.compare_digest(one.encode(), token.encode()) for one in given)

    def _most_bytes(self, scope: Scope) -> int:
        is_upload = scope["method"] == "PUT" and scope["path"].startswith(UPLOADS)
        return self._settings.most_upload_bytes if is_upload else MOST_BODY_BYTES


def _is_own_page(scope: Scope, headers: Headers) -> bool:
    """Whether our own page asks, or somebody follows a link to one of our pages."""
    origin = headers.get("origin")
    if origin is not None and origin != f"http://{headers.get('host')}":
        return False
    if headers.get("sec-fetch-site") not in ("cross-site", "same-site"):
        return True
    is_link = headers.get("sec-fetch-mode") == "navigate"
    is_whole_window = headers.get("sec-fetch-dest") == "document"
    return is_link and is_whole_window and not scope["path"].startswith(INTERFACE)


def _too_large(scope: Scope) -> str:
    return f"more than {scope['path']} takes: a request is limited in size"


def _query(scope: Scope) -> list[tuple[str, str]]:
    return parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)


def _is_arrival(scope: Scope) -> bool:
    """Whether somebody opens a page by the address with the token."""
    is_page = scope["method"] == "GET" and not scope["path"].startswith(INTERFACE)
    return is_page and any(name == TOKEN_FIELD for name, _ in _query(scope))


def _cookie_name(headers: Headers) -> str:
    """Cookies do not tell ports apart; two benches on one machine must."""
    return f"bench_token_{headers.get('host', '').rpartition(':')[2]}"


async def _answer(send: Send, status: int, sentence: str) -> None:
    headers, body = refusal(sentence)
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
