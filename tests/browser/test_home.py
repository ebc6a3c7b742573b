"""The first page: questions, cards of campaigns, plans and recordings."""

import pytest
from playwright.sync_api import expect

from bench_server import Server

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One bench folder for all tests here."""
    return tmp_path_factory.mktemp("home") / "bench"


@pytest.fixture(scope="module")
def server(folder):
    started = Server(folder)
    yield started
    started.kill()


def test_what_lies_in_the_folder(page, harbour, server, accessible, portrait):
    page.goto(server.url)
    card = page.get_by_role("listitem").filter(
        has=page.get_by_role("link", name="Harbour: electric")
    )
    expect(card).to_contain_text("finished: 168 of 168 trials")
    expect(card.locator(".answer")).to_contain_text("dB")
    expect(card.get_by_role("img", name="quiet band")).to_be_visible()
    assert card.locator("polyline").count() == 2
    recording = page.get_by_role("link", name="pump.wav")
    expect(recording).to_have_attribute("href", "/noise/pump.wav")
    expect(page.get_by_role("link", name="harbour", exact=True)).to_have_attribute(
        "href", "/plans/harbour"
    )
    for question in ("Which receiver", "Which setting"):
        expect(page.get_by_role("link", name=question)).to_have_attribute("href", "/duel")
    accessible(server.url, ready=".told")
    portrait(page, "home")


def test_a_new_question_by_keyboard(page, folder):
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the content")).to_be_focused()
    page.get_by_label("How much noise").focus()
    for _ in range(3):
        page.keyboard.press("ArrowDown")
    expect(page.get_by_label("What do impulses cost?")).to_be_checked()
    expect(page.get_by_label("Name of the plan")).to_have_value("impulses")
    page.get_by_label("Name of the plan").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Plan impulses")).to_be_visible()
    assert "20 a second" in (folder / "impulses.toml").read_text()
    page.go_back()
    page.get_by_label("What do impulses cost?").check()
    expect(page.get_by_label("Name of the plan")).to_have_value("impulses 2")


def test_my_own_noise(page, harbour, server, folder):
    page.goto(server.url)
    page.get_by_label("What does my own noise cost?").check()
    expect(page.get_by_role("combobox", name="Recording")).to_have_value("pump.wav")
    page.get_by_role("button", name="Make a plan").click()
    expect(page.get_by_role("heading", name="Plan recording")).to_be_visible()
    assert "pump.wav" in (folder / "recording.toml").read_text()


def test_without_a_recording_the_way_to_one_is_shown(page, folder, server):
    for sound in (folder / "recordings").iterdir():
        sound.unlink()
    page.goto(server.url)
    page.get_by_label("What does my own noise cost?").check()
    expect(page.get_by_role("link", name="drop one into the noise lab")).to_be_visible()
    expect(page.get_by_role("button", name="Make a plan")).to_be_disabled()
