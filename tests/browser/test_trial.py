"""One trial in the browser: the preview of a plan, and a trial of a campaign."""

import json
import time

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

READY = '.trial[aria-busy="false"]'
SAID = 20_000
"""A trial is made within 2 s on an idle core; these tests share theirs."""


def opened(page, address):
    page.goto(address)
    page.wait_for_selector(READY, timeout=SAID)
    expect(page.get_by_role("status")).to_contain_text("is shown", timeout=SAID)


def done(page, words):
    expect(page.get_by_role("status")).to_contain_text(words, timeout=SAID)


def test_any_trial_of_a_plan_is_previewed(page, server, harbour, portrait):
    opened(page, f"{server.url}plans/harbour/preview")
    words = page.locator("#trial-words")
    expect(words).to_contain_text("Trial 0 of “quiet band” at SNR in 2500 Hz −20 dB")
    # A player of the slot's length that starts quiet, with its level and a caution beside it.
    player = page.locator("#player")
    page.wait_for_function("document.getElementById('player').readyState >= 1")
    assert player.evaluate("p => p.duration") == pytest.approx(15.0, abs=0.01)
    assert player.evaluate("p => p.volume") <= 0.2 and player.evaluate("p => p.paused")
    expect(page.locator("#sound")).to_contain_text("dBFS, mean (rms) −20.0 dBFS")
    expect(page.locator("#volume")).to_contain_text("Volume 10 % (−20 dB")
    expect(page.get_by_text("Mind your ears")).to_be_visible()
    # The other condition, in which a fence is outlined.
    page.get_by_label("Condition").select_option(label="electric fence")
    expect(words).to_contain_text("“electric fence”", timeout=SAID)
    done(page, "is shown")
    for picture in ("wide", "near"):
        assert page.locator(f"#{picture} image").count() == 1
        assert page.locator(f"#{picture} .outline").count() >= 2
    for picture in ("waveform", "spectrum", "symbols"):
        expect(page.locator(f"#{picture} svg").first).to_be_visible()
    rows = page.locator("#levels tbody tr")
    expect(rows.first).to_contain_text("SNR in 2500 Hz")
    assert rows.count() == 2
    portrait(page, "preview")
    page.get_by_role("button", name="Next trial").click()
    expect(words).to_contain_text("Trial 1 of", timeout=SAID)
    assert "index=1" in page.url
    page.reload()
    expect(words).to_contain_text("Trial 1 of “electric fence”", timeout=SAID)
    done(page, "is shown")
    page.get_by_label("Nothing sent").check()
    expect(words).to_contain_text("with nothing sent", timeout=SAID)
    expect(page.locator("#no-symbols")).to_contain_text("Nothing was sent")


def test_what_is_muted_is_gone_and_said_to_be(page, server, harbour):
    opened(page, f"{server.url}plans/harbour/preview?condition=2&axis_value=-16&index=0")
    whole = page.locator("#sound").text_content()
    picture = page.locator("#wide image").get_attribute("href")
    expect(page.locator("#muted-words")).to_be_hidden()
    mute = page.get_by_role("button", name="Mute impulses")
    expect(mute).to_have_attribute("aria-pressed", "false")
    # By the keyboard; the switch keeps the focus while all is made anew.
    mute.focus()
    page.keyboard.press("Space")
    done(page, "without what is muted")
    expect(mute).to_have_attribute("aria-pressed", "true")
    expect(mute).to_be_focused()
    expect(page.locator("#muted-words")).to_contain_text("Not a trial of the campaign")
    expect(page.locator("#muted-words")).to_contain_text("impulses")
    expect(page.locator(".sources .is-muted")).to_contain_text("Muted")
    assert page.locator("#sound").text_content() != whole
    assert page.locator("#wide image").get_attribute("href") != picture
    assert page.locator("#player").evaluate("p => p.volume") <= 0.2
    page.get_by_role("button", name="Mute wanted signal").click()
    expect(page.locator("#no-symbols")).to_contain_text("muted", timeout=SAID)
    done(page, "without what is muted")
    for name in ("Mute wanted signal", "Mute impulses"):
        page.get_by_role("button", name=name).click()
        page.wait_for_selector(READY, timeout=SAID)
    done(page, "is shown")
    assert page.locator("#sound").text_content() == whole


def test_symbols_are_picked_by_keyboard_and_trials_come_soon(page, server, harbour):
    opened(page, f"{server.url}plans/harbour/preview?condition=2&axis_value=-16&index=0")
    counts = page.locator("#symbol-counts")
    expect(counts).to_contain_text("of 79 symbols wrong")
    expect(counts).to_contain_text("of 21 of the Costas arrays")
    page.get_by_label("as the built-in receiver mends it").check()
    expect(page.locator("#symbol-words")).to_contain_text("steady carriers are taken out")
    mark = page.locator('#symbols [tabindex="0"]')
    mark.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    done(page, "The player stands just before it")
    said = page.get_by_role("status").text_content()
    at_s = float(said.split("at ")[1].split(" s")[0])
    assert page.locator("#player").evaluate("p => p.currentTime") == pytest.approx(
        max(at_s - 0.2, 0.0), abs=0.02
    )
    expect(page.locator(".playhead").first).to_be_visible()
    assert_quick(page)


def assert_quick(page):
    """A preview comes soon, and making trials keeps no other request waiting."""
    times = page.evaluate(
        """async () => {
            const clock = async (path) => {
                const began = performance.now();
                await (await fetch(path)).arrayBuffer();
                return performance.now() - began;
            };
            const base = "/api/plans/harbour/preview?condition=2&axis_value=-16&index=";
            const trials = [1, 2, 3].map((index) => clock(base + index));
            const beside = await clock("/api/contents");
            return { beside, trials: await Promise.all(trials) };
        }"""
    )
    began = time.perf_counter()
    page.get_by_role("button", name="Next trial").click()
    expect(page.locator("#trial-words")).to_contain_text("Trial 1 of", timeout=SAID)
    shown_s = time.perf_counter() - began
    # A server that first makes the trials that were asked for before would answer after them.
    assert times["beside"] < min(times["trials"])
    # On an idle core 1 s; the cores are shared by everything that runs beside this test.
    assert shown_s < 10.0


def test_a_trial_of_a_campaign_is_proved_and_told(page, server, harbour, portrait, tmp_path):
    address = f"{server.url}campaigns/harbour/trial?condition=electric+fence&axis_value=-22&index=1"
    opened(page, address)
    expect(page.locator("#same")).to_contain_text("the same samples as in the campaign")
    expect(page.locator("#sent")).to_contain_text("Sent: “")
    answers = page.locator("#answers tbody tr")
    expect(answers.first).to_contain_text("builtin")
    assert answers.first.locator("td").first.text_content() in ("decoded", "missed")
    portrait(page, "trial")
    with page.expect_download() as taken:
        page.get_by_role("link", name="WAV with its certificate").click()
    assert taken.value.suggested_filename == "trial-2_-22_1.wav"
    taken.value.save_as(tmp_path / "trial.wav")
    assert b"solidcopy" in (tmp_path / "trial.wav").read_bytes()
    with page.expect_download() as taken:
        page.get_by_role("link", name="What is in it").click()
    taken.value.save_as(tmp_path / "trial.json")
    described = json.loads((tmp_path / "trial.json").read_text())
    assert described["trial"] == "2@-22#1"
    page.get_by_role("link", name="Previous trial").click()
    expect(page.locator("#trial-words")).to_contain_text("Trial 0 of", timeout=SAID)
    done(page, "is shown")
    expect(page.get_by_role("link", name="Previous trial")).to_be_hidden()
    missed = page.locator("#answers a").first
    number = missed.text_content().removeprefix("trial ")
    missed.click()
    expect(page.locator("#trial-words")).to_contain_text(f"Trial {number} of", timeout=SAID)
    expect(page.locator("#answers tbody td").first).to_have_text("missed")
    done(page, "is shown")


def test_both_pages_are_accessible(server, harbour, accessible):
    for address in (
        "plans/harbour/preview?condition=2&axis_value=-16",
        "campaigns/harbour/trial?condition=2&axis_value=-22&index=0",
    ):
        accessible(server.url + address, ready=READY)
