"""All pages of the bench in Chromium, with ill names to show and everything they ask for heard."""

import pytest
from fastapi.routing import APIRoute

import fuzzed_bench
from solidcopy.web.app import ROUTERS

pytestmark = pytest.mark.browser

ILL = "<img src=https://bench.example/x onerror=document.title='ill'>"
SETTLED_MS = 20_000
PAGES = [
    route.path
    for router in ROUTERS
    for route in router.routes
    if isinstance(route, APIRoute) and not route.include_in_schema
]
PIECES = {"/noise/looks/{key}"}
"""No page of its own, but put into one by its script."""


@pytest.fixture
def ill_named(folder):
    """A bench whose campaign has names that are markup, and two receivers to compare."""
    text = fuzzed_bench.TEXT.replace('"Harbour"', f'"{ILL}"').replace('"quiet band"', f'"{ILL}"')
    second = f'[[receivers]]\nkind = "builtin"\npasses = 1\nname = "{ILL}"\n'
    fuzzed_bench.populated(folder, text + second)


@pytest.fixture
def heard(browser):
    """A window with a list of all that it asks for, and of what goes wrong."""
    context = browser.new_context()
    opened = context.new_page()
    asked, wrong = [], []
    context.on("request", lambda request: asked.append(request.url))
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    yield opened, asked, wrong
    context.close()


def test_no_page_asks_another_machine_or_runs_what_it_shows(ill_named, server, heard):
    page, asked, wrong = heard
    known = {"name": fuzzed_bench.CAMPAIGN, "recording": fuzzed_bench.RECORDING}
    paths = [path for path in PAGES if path not in PIECES]
    n_shown = 0
    for path in paths:
        answer = page.goto(server.url.rstrip("/") + path.format_map(known))
        assert answer.status == 200, path
        page.wait_for_load_state("networkidle", timeout=SETTLED_MS)
        for player in page.locator("audio").all():
            player.evaluate("player => player.load()")
        assert page.title() != "ill"
        assert page.locator("img[onerror]").count() == 0, path
        n_shown += ILL in page.locator("body").inner_text()
    page.wait_for_load_state("networkidle", timeout=SETTLED_MS)
    own = (server.url, "data:", f"blob:{server.url}")
    foreign = [url for url in asked if not url.startswith(own)]
    print(f"{len(paths)} pages, {len(asked)} requests, {len(foreign)} of them off the machine")
    assert foreign == [] and wrong == []
    assert n_shown >= 5, "the names are shown, as they are"
    assert len(asked) > 3 * len(paths)
