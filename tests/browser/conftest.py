"""The bench in real Chromium against a real server process: what every test of a page uses."""

import os
import re
import shutil
from pathlib import Path

import numpy as np
import psutil
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import sync_playwright

from bench_server import Server
from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.run import RunOptions, run_campaign
from solidcopy.campaigns.journal.lock import holder
from solidcopy.signals.audio_file import write_audio

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
ENDED_WITHIN_S = 20.0
DESK = {"width": 1280, "height": 720}
TABLET = {"width": 820, "height": 1180}
PORTRAITS = Path(__file__).parents[2] / "docs" / "images" / "bench"
PORTRAIT = {"width": 1280, "height": 1000}
PORTRAIT_COLOURS = 64
DRAWN_ANEW = """() => {
    scrollTo(0, 0);
    document.querySelector(".where").textContent = "bench";  // else another one with each run
    return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
}"""

HARBOUR = """
title = "Harbour: electric fence"
mode = "ft8"
root_seed = 3
axis = { start = -24, stop = -16, step = 2 }
stop = { trials_per_point = 16, nothing_sent = 4 }

[[conditions]]
name = "quiet band"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[conditions]]
name = "electric fence"
impairments = [
    { kind = "gaussian-noise", snr_db = "axis" },
    { kind = "impulses", rate_per_s = 20, timing = "random", interference_to_noise_db = 3 },
]

[[receivers]]
kind = "builtin"
"""


@pytest.fixture(scope="session", autouse=True)
def _nothing_left_behind(tmp_path_factory):
    """Whatever was started on a folder of these tests has ended with them."""
    yield
    base = f"{tmp_path_factory.getbasetemp()}{os.sep}"
    left = [
        process
        for process in psutil.process_iter(["cmdline"])
        if process.pid != os.getpid()
        and any(word.startswith(base) for word in process.info["cmdline"] or ())
    ]
    _, still = psutil.wait_procs(left, timeout=ENDED_WITHIN_S)
    said = [process.info["cmdline"] for process in still]
    for process in still:
        process.kill()
    assert said == []


@pytest.fixture(scope="session")
def browser():
    with sync_playwright() as p:
        chromium = p.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture
def folder(tmp_path):
    """The bench folder."""
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
    context = browser.new_context(viewport=DESK)
    opened = context.new_page()
    wrong, asked = [], []

    def hear(said):
        # Of a refused request and of a killed server the browser itself writes a line; the page
        # says it to the person.
        is_said = re.search(r"status of 4\d\d", said.text) or "net::ERR_" in said.text
        if said.type == "error" and not is_said:
            wrong.append(f"{said.text} {said.location}")

    opened.on("console", hear)
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("request", lambda request: asked.append(request.url))
    opened.goto(server.url)
    yield opened
    context.close()
    assert wrong == []
    own = (server.url, "data:", f"blob:{server.url}")
    assert asked
    assert [url for url in asked if not url.startswith(own)] == []


@pytest.fixture
def accessible(browser):
    """A function that asserts of an address: no violations found by axe-core, no sideways scroll.

    Asked on a desk and on a tablet, light and dark. `ready` is a selector to wait for. axe-core
    needs a context without the page's own policy.
    """

    def check(url: str, *, ready: str = "h1") -> None:
        for scheme, size in (("light", DESK), ("dark", TABLET)):
            context = browser.new_context(bypass_csp=True, color_scheme=scheme, viewport=size)
            opened = context.new_page()
            opened.goto(url)
            opened.wait_for_selector(ready)
            found = Axe().run(opened).response["violations"]
            said = [(one["id"], [node["html"] for node in one["nodes"]][:3]) for one in found]
            assert said == [], (url, scheme)
            width = opened.evaluate("document.documentElement.scrollWidth")
            assert width <= size["width"], (url, scheme, "scrolls sideways")
            context.close()

    return check


@pytest.fixture(scope="session")
def _harbour(tmp_path_factory):
    made = tmp_path_factory.mktemp("harbour")
    (made / "harbour.toml").write_text(HARBOUR)
    for _ in run_campaign(made / "harbour.toml", RunOptions(n_workers=1)):
        pass
    (made / "recordings").mkdir()
    hiss = np.random.default_rng(1).normal(scale=0.05, size=12_000 * 20)
    write_audio(made / "recordings" / "pump.wav", hiss, sample_rate_hz=12_000, subtype="PCM_16")
    return made


@pytest.fixture
def harbour(_harbour, folder):
    """A finished campaign "harbour", its plan, and a recording "pump.wav" in the bench folder."""
    shutil.copytree(_harbour, folder, dirs_exist_ok=True)
    return folder


@pytest.fixture
def portrait(request):
    """A function that keeps pictures of a page, light and dark, for the docs."""

    def keep(page, name: str) -> None:
        if not request.config.getoption("--portraits"):
            return
        PORTRAITS.mkdir(parents=True, exist_ok=True)
        size = page.viewport_size
        page.set_viewport_size(PORTRAIT)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.evaluate(DRAWN_ANEW)
            file = PORTRAITS / f"{name}-{scheme}.png"
            page.screenshot(path=file)
            with Image.open(file) as picture:
                small = picture.convert("RGB").quantize(PORTRAIT_COLOURS)
            small.save(file, optimize=True)
        page.emulate_media(color_scheme="light")
        page.set_viewport_size(size)

    return keep
