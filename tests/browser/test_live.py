"""The live page, where there is no sound device: what it offers, asks for and says."""

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

LIVE = """
title = "Harbour, live"
mode = "ft4"
root_seed = 5
axis = { values = [-20, -8] }
stop = { trials_per_point = 2 }

[[conditions]]
name = "noise"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[receivers]]
kind = "station"
listener = "the club's program"
"""


def test_without_a_station_it_says_what_to_add(page, accessible, server):
    page.goto(f"{server.url}live")
    expect(page.get_by_text("No plan of this bench names a station yet")).to_be_visible()
    accessible(f"{server.url}live")


def test_nothing_sounds_before_it_is_confirmed(page, accessible, portrait, server, folder):
    (folder / "live.toml").write_text(LIVE)
    page.goto(f"{server.url}live")
    expect(page.get_by_text("Listens: station: the club's program")).to_be_visible()
    expect(page.get_by_text("No transmitter that can radiate hangs on it")).to_be_visible()
    asked = []
    page.on("request", lambda request: asked.append(request.method))
    page.get_by_role("button", name="Play").click()
    page.wait_for_timeout(500)
    assert "POST" not in asked
    portrait(page, "live")
    accessible(f"{server.url}live", ready="#stations:not(:empty)")


def test_what_cannot_be_opened_is_said(page, server, folder):
    (folder / "live.toml").write_text(LIVE)
    page.goto(f"{server.url}live")
    expect(page.get_by_text("Listens: station")).to_be_visible(timeout=20_000)
    page.get_by_label("All of this holds").check()
    page.get_by_role("button", name="Play").click()
    expect(page.get_by_role("status")).to_contain_text("sound", timeout=60_000)
    expect(page.get_by_role("button", name="Play")).to_be_enabled()


def test_the_page_names_no_file_to_read(page, server, folder):
    (folder / "live.toml").write_text(LIVE)
    page.goto(f"{server.url}live")
    expect(page.get_by_text("is set at the command line only")).to_be_visible()
    options = page.get_by_label("Decodes come from").locator("option").all_inner_texts()
    assert options == ["our own receiver, at an input"]
