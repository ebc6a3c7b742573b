"""What a hostile client tries on the bench, each trial one change away from what is let in."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from raw_http import Answer, head, send
from solidcopy.web.guard import KEY_HEADER, MOST_BODY_BYTES

NEW_PLAN = json.dumps({"name": "first", "question": "noise"}).encode()
LARGE = MOST_BODY_BYTES + 1
CHUNK = b"%x\r\n%s\r\n" % (1 << 19, b" " * (1 << 19))
FOREIGN = "bench.example"
SECRET = "words from outside the folder"
OUTSIDE_PLANS = {
    "a plan that names an outside program": (
        '[[receivers]]\nkind = "program"\nname = "x"\ncommand = ["/bin/sh", "-c", "id"]\n'
        '[receivers.answer]\nkind = "lines"\nlayout = "{audio_hz} {text}"'
    ),
    "a plan that names Python code": (
        '[[receivers]]\nkind = "python"\nname = "x"\nload = "os:system"'
    ),
    "a plan that names a file by its whole path": "/etc/passwd",
    "a plan that names a file one folder up": "../outside.wav",
    "a plan that names a link out of the folder": "recordings/link.wav",
}
ESCAPES = (
    "..",
    "%2e%2e",
    "..%2fsecret",
    "%2e%2e%2fsecret",
    "%252e%252e%252fsecret",
    "..%5csecret",
    "%2fetc%2fpasswd",
    "secret%00.toml",
    "%c0%ae%c0%ae%2fsecret",
    ".bench-key",
    "link",
    "link.wav",
    "inner",
    "x" * 300,
    "%e2%80%aewav",
)
"""Names that lead out, or would on some system; "link" and "inner" are links in the folder."""


@dataclass(frozen=True)
class Bench:
    """A bench under test."""

    port: int
    host: str
    key: str


@dataclass(frozen=True)
class Ask:
    """One trial.

    Args:
        words: what is tried.
        status: that must be answered.
        headers: beside those of our own page, or instead; None leaves one out.
        pieces: the whole request instead.
        pause_s: between the pieces.
    """

    words: str
    status: int
    method: str = "POST"
    target: str = "/api/plans"
    headers: dict[str, str | None] = field(default_factory=dict)
    body: bytes = NEW_PLAN
    pieces: tuple[bytes, ...] = ()
    pause_s: float = 0.0

    def answer(self, bench: Bench) -> Answer:
        """What a bench makes of it."""
        own: dict[str, str | None] = {
            "host": bench.host,
            "origin": f"http://{bench.host}",
            KEY_HEADER: bench.key,
            "content-type": "application/json",
            "content-length": str(len(self.body)),
        }
        marks = {"HOST": bench.host, "PORT": str(bench.port), "KEY": bench.key}
        changed = {name: value and _filled(value, marks) for name, value in self.headers.items()}
        whole = [head(self.method, _filled(self.target, marks), {**own, **changed}), self.body]
        pieces = [_filled(one.decode("latin-1"), marks).encode("latin-1") for one in self.pieces]
        return send(bench.port, pieces or whole, pause_s=self.pause_s)


def _filled(text: str, marks: dict[str, str]) -> str:
    for mark, value in marks.items():
        text = text.replace(f"<{mark}>", value)
    return text


def who_asks() -> Iterator[Ask]:
    """Foreign names, pages and keys."""
    fetch = {"origin": None, "sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    link = {**fetch, "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    yield Ask("our own page, with its key", 201)
    yield Ask("a foreign name in Host", 400, headers={"host": f"{FOREIGN}:<PORT>"})
    yield Ask(
        "a foreign name that was pointed here (DNS rebinding)",
        400,
        headers={"host": f"{FOREIGN}:<PORT>", "origin": f"http://{FOREIGN}:<PORT>"},
    )
    yield Ask("Host without its port", 400, headers={"host": "127.0.0.1"})
    yield Ask("no Host", 400, headers={"host": None})
    yield Ask("two Hosts", 400, headers={"Host": "<HOST>"})
    yield Ask("a foreign Origin", 403, headers={"origin": f"http://{FOREIGN}"})
    yield Ask("Origin: null (a file, a sandbox)", 403, headers={"origin": "null"})
    yield Ask("another port of this machine", 403, headers={"origin": "http://127.0.0.1:1"})
    yield Ask("a picture or script in a foreign page", 403, "GET", "/", fetch, b"")
    yield Ask(
        "a frame in a foreign page", 403, "GET", "/", {**link, "sec-fetch-dest": "iframe"}, b""
    )
    yield Ask("a link in a foreign page to the interface", 403, "GET", "/api/contents", link, b"")
    yield Ask("a link in a foreign page to a page", 200, "GET", "/", link, b"")
    yield Ask("no key", 403, headers={KEY_HEADER: None})
    yield Ask("a wrong key", 403, headers={KEY_HEADER: "x" * 43})
    yield Ask(
        "the key in the address", 403, target="/api/plans?key=<KEY>", headers={KEY_HEADER: None}
    )
    yield Ask("a form of a foreign page", 403, headers={"origin": None, KEY_HEADER: None})
    yield Ask(
        "leave for a foreign page to ask (CORS)",
        403,
        "OPTIONS",
        headers={"origin": f"http://{FOREIGN}", "access-control-request-method": "POST"},
        body=b"",
    )
    yield Ask(
        "a foreign page's WebSocket",
        403,
        "GET",
        "/",
        {"origin": f"http://{FOREIGN}", "connection": "upgrade", "upgrade": "websocket"},
        b"",
    )


def how_much() -> Iterator[Ask]:
    """Sizes and times."""
    chunked: dict[str, str | None] = {"content-length": None, "transfer-encoding": "chunked"}
    start = b"POST /api/plans HTTP/1.1\r\nhost: <HOST>\r\nx-bench-key: <KEY>\r\n"
    yield Ask("a body of 2 MB and a byte, by its stated length", 413, body=b" " * LARGE)
    yield Ask("a body of 2.1 MB in pieces", 413, headers=chunked, body=CHUNK * 4 + b"0\r\n\r\n")
    yield Ask(
        "a recording of 17 GB, by its stated length",
        413,
        "PUT",
        "/api/recordings/x.wav",
        {"content-length": "17000000000"},
        b"",
    )
    yield Ask("a stated length of 5000 digits", 400, headers={"content-length": "9" * 5000})
    yield Ask("a stated length below zero", 400, headers={"content-length": "-1"})
    yield Ask("a head of 1 MB", 400, headers={"x-long": "x" * 1_000_000})
    yield Ask("an address of 1 MB", 400, "GET", "/" + "x" * 1_000_000, body=b"")
    yield Ask("no HTTP at all", 400, pieces=(b"\x16\x03\x01\x02\x00\x01\x00\r\n\r\n",))
    yield Ask("two lengths", 400, headers={"Content-Length": "1"})
    yield Ask("a head that never ends", 408, pieces=(start, b""), pause_s=1.5)
    yield Ask(
        "a body that never ends",
        408,
        pieces=(start + b"content-length: 50\r\n\r\n{", b" ", b" "),
        pause_s=0.8,
    )
    yield Ask("lists in lists, 100 000 deep", 400, body=b"[" * 100_000)
    yield Ask("half a character", 400, body=b'{"name": "\\ud800", "question": "noise"}')
    yield Ask("a method that no path has", 405, "TRACE", body=b"")


def with_token() -> Iterator[Ask]:
    """Beyond this machine."""
    page: dict[str, str | None] = {"origin": None, KEY_HEADER: None}
    yield Ask("no token", 401, "GET", "/", page, b"")
    yield Ask("a wrong token", 401, "GET", "/?token=wrong", page, b"")
    yield Ask("no token, for a script of ours", 401, "GET", "/static/bench.js", page, b"")
    yield Ask("another bench's cookie", 401, "GET", "/", {**page, "cookie": "bench_token_1=x"}, b"")
    yield Ask("a broken cookie", 401, "GET", "/", {**page, "cookie": "(=,)e ?P<e=;"}, b"")
    yield Ask("the key, but no token", 401)


def plans(kept: str) -> Iterator[Ask]:
    """Texts put in place of a plan.

    Args:
        kept: the plan as it lies there.
    """
    lines = [line for line in kept.splitlines() if line.startswith(("mode", "root_seed"))]
    rest = "axis = { start = -20, stop = -10, step = 5 }\nstop = { trials_per_point = 1 }\n"
    condition = 'conditions = [{ name = "x", impairments = [%s] }]\n'
    noise = '{ kind = "gaussian-noise", snr_db = "axis" }'
    sound = '{ kind = "recording", file = "%s", snr_db = "axis" }'
    for words, tried in OUTSIDE_PLANS.items():
        is_file = not tried.startswith("[")
        impairment = sound % tried if is_file else noise
        text = "\n".join(lines) + f"\n{rest}{condition % impairment}"
        body = json.dumps({"text": text + ("" if is_file else tried)}).encode()
        yield Ask(words, 400, "PUT", "/api/plans/first", body=body)


def plant_links(folder: Path) -> None:
    """Beside the bench folder lie secrets; in it, links to them."""
    outside = folder.parent / "outside"
    outside.mkdir()
    for name in ("secret", "outside.wav", "journal.sqlite", "plan.toml"):
        (outside / name).write_text(SECRET)
        (folder.parent / name).write_text(SECRET)
    (folder / "link.toml").symlink_to(outside / "plan.toml")
    (folder / "link.campaign").symlink_to(outside)
    (folder / "recordings" / "link.wav").symlink_to(outside / "outside.wav")
    (folder / "inner.campaign").mkdir()
    for name in ("journal.sqlite", "run.log", "report.html"):
        (folder / "inner.campaign" / name).symlink_to(outside / "secret")
