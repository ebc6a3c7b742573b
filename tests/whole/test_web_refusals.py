"""What the bench refuses, measured on a real server process; the docs hold the table."""

import json
import re
from pathlib import Path

import pytest
from fastapi.routing import APIRoute

import refusals
from bench_server import Server
from raw_http import Answer
from refusals import Ask, Bench
from solidcopy.web.app import ROUTERS

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "bench-safety.md"
HASTY = (str(Path(__file__).parents[1] / "hasty_bench.py"),)
SHAPE = {"kind", "sentence", "field"}
ROUTES = [route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute)]


def listing(folder: Path) -> dict[str, bytes]:
    """All files and what they hold."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def started(tmp_path_factory):
    folder = tmp_path_factory.mktemp("refusals") / "bench"
    server = Server(folder, program=HASTY)
    refusals.plant_links(folder)
    host = server.url.split("/")[2]
    key = (folder / ".bench-key").read_text()
    yield Bench(server.port, host, key), folder
    server.kill()


@pytest.fixture(scope="module")
def beyond(tmp_path_factory):
    """It listens on all addresses; the test speaks to it by the loopback one."""
    folder = tmp_path_factory.mktemp("beyond") / "bench"
    server = Server(folder, 0, "--address", "0.0.0.0", program=HASTY)
    host = server.url.split("/")[2]
    token = re.search(r"token=(\S+)", server.said)[1]
    yield Bench(server.port, host, (folder / ".bench-key").read_text()), token
    server.kill()


def measured(bench: Bench, asks: list[Ask]) -> list[str]:
    """Rows of the table, each answer checked on the way."""
    rows = []
    for ask in asks:
        answer = ask.answer(bench)
        assert answer.status == ask.status, (ask.words, answer)
        rows.append(f"| {ask.words} | {answer.status} | {said(answer)} |")
    return rows


def said(answer: Answer) -> str:
    """The sentence of a refusal, which has the one shape and all headers of safety."""
    if answer.status < 400:
        return "let in"
    problem = decoded(answer)
    assert set(problem) == SHAPE
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    return re.sub(r"/\S*/(?=first\.toml)", "", problem["sentence"]).replace("|", "\\|")


def decoded(answer: Answer) -> dict[str, str]:
    assert answer.headers["content-type"] == "application/json", answer
    return json.loads(answer.body)


def table(title: str, rows: list[str]) -> str:
    return "\n".join([f"\n### {title}\n", "| tried | answer | in words |", "|---|---|---|", *rows])


def test_the_table_in_the_docs_is_what_the_server_does(started, beyond):
    bench, folder = started
    parts = [table("Who asks", measured(bench, list(refusals.who_asks())))]
    before = listing(folder)
    parts.append(table("How much, and how slowly", measured(bench, list(refusals.how_much()))))
    kept = (folder / "first.toml").read_text()
    parts.append(table("What a plan may name", measured(bench, list(refusals.plans(kept)))))
    assert listing(folder) == before
    far, _ = beyond
    parts.append(table("Beyond this machine", measured(far, list(refusals.with_token()))))
    text = "\n".join(parts).lstrip("\n") + "\n"
    shown = PAGE.read_text(encoding="utf-8").split("<!-- measured -->\n")[1]
    assert shown == text, f"the docs differ from what was measured:\n{text}"


def test_the_token_leaves_the_address_and_opens_the_door(beyond):
    bench, token = beyond
    page = {"origin": None}
    arrived = Ask("", 303, "GET", f"//bench.example/?a=b&token={token}", page, b"").answer(bench)
    assert arrived.status == 303
    assert arrived.headers["location"] == "/bench.example/?a=b"
    cookie, _, rest = arrived.headers["set-cookie"].partition(";")
    assert cookie == f"bench_token_{bench.port}={token}"
    assert "HttpOnly" in rest and "SameSite=Strict" in rest
    inside = Ask("", 200, "GET", "/", {**page, "cookie": cookie}, b"").answer(bench)
    assert inside.status == 200 and token.encode() not in inside.body
    by_program = Ask("", 200, "GET", f"/api/contents?token={token}", page, b"").answer(bench)
    assert by_program.status == 200


def addresses(escape: str) -> list[tuple[str, str]]:
    """Method and address of every path that holds a name, with an escape for each name."""
    found = []
    for route in ROUTES:
        if "{" in route.path:
            query = "&".join(f"{one.alias}=0" for one in route.dependant.query_params)
            target = re.sub(r"\{[^}]*\}", escape, route.path)
            found += [(m, f"{target}?{query}".rstrip("?")) for m in sorted(route.methods)]
    return found


def test_no_name_leads_out_of_the_folder(started):
    bench, folder = started
    before = listing(folder)
    statuses, n_asked = set(), 0
    for escape in refusals.ESCAPES:
        for method, target in addresses(escape):
            body = b"" if method == "GET" else b"{}"
            answer = Ask("", 400, method, target, {}, body).answer(bench)
            assert answer.status in (400, 404, 405, 409, 422), (method, target, answer)
            assert set(decoded(answer)) == SHAPE
            assert refusals.SECRET.encode() not in answer.body
            assert bench.key.encode() not in answer.body
            statuses.add(answer.status)
            n_asked += 1
    assert n_asked >= len(refusals.ESCAPES) * 10
    for target in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "//etc"):
        assert Ask("", 404, "GET", target, {}, b"").answer(bench).status == 404
    assert listing(folder) == before
    print(f"{n_asked} addresses that lead out: {sorted(statuses)}")
