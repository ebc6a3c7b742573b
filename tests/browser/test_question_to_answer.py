"""From a question to an answer in the browser, and a server that is killed on the way."""

import time

import pytest
from playwright.sync_api import expect

from bench_server import Server
from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.run import read_status

pytestmark = pytest.mark.browser

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


def test_from_a_question_to_an_answer(page, accessible, server, folder):
    page.get_by_label("How much noise").check()
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
    page.get_by_role("link", name="Report", exact=True).click()
    expect(page.locator(".answer").first).to_contain_text("dB")
    page.goto(server.url)
    expect(page.get_by_role("link", name="Gaussian noise")).to_be_visible()
    for path in ("", "plans/harbour", "campaigns/harbour"):
        accessible(server.url + path)


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
    page.get_by_role("button", name="See the cost first").click()
    page.get_by_role("button", name="Run the campaign").click(timeout=60_000)
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
        expect(page.locator("#far")).to_contain_text("244 of 244, finished", timeout=300_000)
    finally:
        again.kill()
        time.sleep(0.1)
