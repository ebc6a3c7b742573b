"""The bench in real Chromium against a real server process."""

import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect, sync_playwright

from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.run import read_status
from solidcopy.campaigns.journal.lock import holder

pytestmark = pytest.mark.browser

CHROMIUM = "/usr/bin/chromium"
SMALL = """
title = "Gaussian noise"
mode = "ft8"
root_seed = 3
axis = { start = -24, stop = -18, step = 2 }
stop = { trials_per_point = 12, nothing_sent = 4 }

[[conditions]]
name = "noise"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[receivers]]
kind = "builtin"
"""


class Server:
    """`solidcopy web` in a process of its own."""

    def __init__(self, folder: Path, port: int = 0) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "solidcopy", "web", str(folder), "--port", str(port)],
            stdout=subprocess.PIPE,
            text=True,
        )
        said = self.process.stdout.readline()
        self.url = re.search(r"http://\S+/", said)[0]

    @property
    def port(self) -> int:
        return urlsplit(self.url).port

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as p:
        chromium = p.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "bench"


@pytest.fixture
def server(folder):
    started = Server(folder)
    yield started
    started.kill()
    for campaign in folder.glob(f"*{SUFFIX}"):
        assert holder(campaign) is None, "a run was left behind"


@pytest.fixture
def page(browser, server):
    """A page on which nothing may go wrong, and from which nothing leaves the machine."""
    context = browser.new_context(viewport={"width": 1280, "height": 720})
    opened = context.new_page()
    wrong, asked = [], []

    def hear(said):
        # Of a refused request and of a killed server the browser itself writes a line; the page
        # says it to the person.
        is_said = "status of 400" in said.text or "net::ERR_" in said.text
        if said.type == "error" and not is_said:
            wrong.append(f"{said.text} {said.location}")

    opened.on("console", hear)
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("request", lambda request: asked.append(request.url))
    opened.goto(server.url)
    yield opened
    context.close()
    assert wrong == []
    assert asked and all(url.startswith(server.url) or url == "data:," for url in asked)


def accessible(browser, url, scheme):
    """axe-core's violations on a page; it needs a context without the page's own policy."""
    context = browser.new_context(bypass_csp=True, color_scheme=scheme)
    opened = context.new_page()
    opened.goto(url)
    opened.wait_for_load_state("networkidle") if "campaign" not in url else None
    found = Axe().run(opened)
    context.close()
    return found.response["violations"]


def test_from_a_question_to_an_answer(page, browser, server, folder):
    page.get_by_label("Question").select_option("noise")
    page.get_by_label("Name of the plan").fill("harbour")
    page.get_by_role("button", name="Make a plan").click()
    expect(page.get_by_role("heading", name="Plan harbour")).to_be_visible()
    page.get_by_label("The plan (TOML)").fill(SMALL)
    page.get_by_role("button", name="Save and check").click()
    expect(page.get_by_label("What the plan asks for")).to_contain_text(
        "at most 52 trials", timeout=60_000
    )
    page.get_by_role("button", name="Run the campaign").click()
    expect(page.get_by_role("heading", name="Gaussian noise")).to_be_visible(timeout=60_000)
    expect(page.locator("#far")).to_contain_text("52 of 52, finished", timeout=120_000)
    expect(page.locator("#answer")).to_contain_text("dB", timeout=30_000)
    assert read_status(folder / f"harbour{SUFFIX}").n_done == 52
    page.get_by_role("link", name="Report").click()
    expect(page.locator(".answer").first).to_contain_text("dB")
    page.goto(server.url)
    expect(page.get_by_role("link", name="Gaussian noise")).to_be_visible()
    for path in ("", "plans/harbour", "campaigns/harbour"):
        for scheme in ("light", "dark"):
            assert accessible(browser, server.url + path, scheme) == [], (path, scheme)


def test_what_is_wrong_in_a_plan_is_said(page):
    page.get_by_label("Name of the plan").fill("first")
    page.get_by_role("button", name="Make a plan").click()
    expect(page.get_by_role("heading", name="Plan first")).to_be_visible()
    page.get_by_label("The plan (TOML)").fill(SMALL.replace("trials_per_point = 12", "at_most = 0"))
    with page.expect_response("**/api/plans/first") as refused:
        page.get_by_role("button", name="Save and check").click()
    assert refused.value.status == 400
    expect(page.get_by_role("status")).to_contain_text("stop")


def test_the_server_may_be_killed_in_mid_run(page, server, folder):
    more = SMALL.replace("trials_per_point = 12", "trials_per_point = 60")
    (folder / "long.toml").write_text(more)
    page.goto(f"{server.url}plans/long")
    page.get_by_role("button", name="Run the campaign").click()
    expect(page.locator("#far")).to_contain_text("running", timeout=60_000)
    campaign, port = folder / f"long{SUFFIX}", server.port
    server.kill()
    again = Server(folder, port)
    try:
        seen = read_status(campaign).n_done
        expect(page.locator("#far")).not_to_contain_text(f"{seen} of", timeout=30_000)
        page.get_by_role("button", name="Stop").click()
        expect(page.locator("#far")).to_contain_text("stopped", timeout=40_000)
        kept = read_status(campaign).n_done
        assert seen <= kept < 244
        page.get_by_role("button", name="Go on").click()
        expect(page.locator("#far")).to_contain_text("244 of 244, finished", timeout=120_000)
    finally:
        again.kill()
        time.sleep(0.1)
