"""Markup of all pages: what the strict policy forbids is not in them, whatever names they show."""

from html.parser import HTMLParser

import pytest
from fastapi.routing import APIRoute
from starlette.testclient import TestClient

import fuzzed_bench
from solidcopy.web.app import ROUTERS, create_app
from solidcopy.web.guard import KEY_HEADER

HERE = "127.0.0.1:8437"
ILL = '"><img src=x onerror=ill()><script>ill()</script><b style="a">{{7}}'
PAGES = [
    route.path
    for router in ROUTERS
    for route in router.routes
    if isinstance(route, APIRoute) and not route.include_in_schema
]
KNOWN = {
    "name": fuzzed_bench.CAMPAIGN,
    "recording": fuzzed_bench.RECORDING,
}


class Markup(HTMLParser):
    """Tags of a page with their attributes."""

    def __init__(self, text):
        super().__init__()
        self.tags = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    ill = ILL.replace('"', '\\"')
    text = (
        fuzzed_bench.TEXT.replace('"Harbour"', f'"{ill}"')
        .replace('"quiet band"', f'"{ill}"')
        .replace('kind = "builtin"', f'kind = "builtin"\nname = "{ill}"')
        + '[[receivers]]\nkind = "builtin"\npasses = 1\n'
    )
    space = fuzzed_bench.populated(tmp_path_factory.mktemp("pages") / "bench", text)
    with TestClient(create_app(space, [HERE]), base_url=f"http://{HERE}") as opened:
        opened.headers[KEY_HEADER] = space.key()
        KNOWN["key"] = fuzzed_bench.finished_look(opened)
        yield opened


@pytest.mark.parametrize("path", PAGES)
def test_a_page_holds_nothing_that_runs_whatever_it_names(client, path):
    answer = client.get(path.format_map(KNOWN))
    assert answer.status_code == 200, answer.text
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    is_report = "sandbox" in policy  # runs nothing at all, and holds its styles
    assert is_report or "unsafe" not in policy
    markup = Markup(answer.text)
    assert len(markup.tags) > 3
    for tag, attributes in markup.tags:
        assert not [name for name in attributes if name.startswith("on")], (tag, attributes)
        assert attributes.get("src") != "x"
        if tag == "script":
            assert is_of_ours(attributes), attributes
        if not is_report:
            assert tag != "style" and "style" not in attributes, (tag, attributes)


def is_of_ours(attributes):
    """A file of ours, or data that the browser does not run."""
    is_data = attributes.get("type") == "application/json"
    return is_data or attributes.get("src", "").startswith("/static/")
