"""Who may speak to the bench: this machine's own pages, and nobody else's.

A page of somebody else's, open in the same browser, can send requests to 127.0.0.1. It cannot set
the Host header to our name unless its name was pointed here (DNS rebinding), cannot hide its
Origin, and cannot read the key that every changing request carries. Source of the rules: Fetch
standard (Origin, Sec-Fetch-Site) and W3C Content Security Policy level 3; from memory.
"""

import contextlib
import hmac
import json
from collections.abc import MutableMapping
from dataclasses import dataclass
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from solidcopy.web.problems import Problem

KEY_HEADER = "x-bench-key"
TOKEN_COOKIE = "bench_token"
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
MOST_BODY_BYTES = 2_000_000
"""Of a request that is no upload of a recording."""
UPLOADS = "/api/recordings/"

CONTENT_POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "media-src 'self' blob:",
        "connect-src 'self'",
        "frame-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'self'",
    ]
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


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


class _TooLargeError(Exception):
    """More body than allowed came in."""


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
        is_new_token = self._settings.token is not None and TOKEN_COOKIE not in _cookies(headers)
        most = self._most_bytes(scope)
        is_over = False

        async def receive_some() -> Message:
            nonlocal most, is_over
            message = await receive()
            most -= len(message.get("body", b""))
            if most < 0:
                is_over = True
                raise _TooLargeError
            return message

        async def send_more(message: MutableMapping[str, Any]) -> None:
            if is_over:
                return  # what the application makes of the broken body
            if message["type"] == "http.response.start":
                set_headers = MutableHeaders(raw=message["headers"])
                for name, value in HEADERS.items():
                    set_headers.setdefault(name, value)
                if is_new_token:
                    set_headers.append(
                        "set-cookie",
                        f"{TOKEN_COOKIE}={self._settings.token}; HttpOnly; SameSite=Strict; Path=/",
                    )
            await send(message)

        with contextlib.suppress(_TooLargeError):
            await self._app(scope, receive_some, send_more)
        if is_over:
            await _answer(send, 413, _too_large(scope))

    def _refused(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """Status and sentence of the first rule that is broken."""
        length = headers.get("content-length", "0")
        rules = (
            (
                400,
                headers.get("host") in self._settings.hosts,
                "this bench answers only under the address that it printed at its start",
            ),
            (403, _is_own_page(headers), "a page of another origin may not use this bench"),
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
        asked = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        given = (asked, _cookies(headers).get(TOKEN_COOKIE, ""))
        return any(hmac.compare_digest(one.encode(), token.encode()) for one in given)

    def _most_bytes(self, scope: Scope) -> int:
        is_upload = scope["method"] == "PUT" and scope["path"].startswith(UPLOADS)
        return self._settings.most_upload_bytes if is_upload else MOST_BODY_BYTES


def _is_own_page(headers: Headers) -> bool:
    origin = headers.get("origin")
    if origin is not None and origin != f"http://{headers.get('host')}":
        return False
    is_foreign = headers.get("sec-fetch-site") in ("cross-site", "same-site")
    return not is_foreign or headers.get("sec-fetch-mode") == "navigate"


def _too_large(scope: Scope) -> str:
    return f"more than {scope['path']} takes: a request is limited in size"


def _cookies(headers: Headers) -> dict[str, str]:
    return {name: morsel.value for name, morsel in SimpleCookie(headers.get("cookie", "")).items()}


async def _answer(send: Send, status: int, sentence: str) -> None:
    body = json.dumps(Problem(kind="refused", sentence=sentence).model_dump()).encode()
    raw = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
    raw += [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": raw})
    await send({"type": "http.response.body", "body": body})
