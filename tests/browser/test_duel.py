"""Two settings against each other in the browser, blind until revealed; two campaigns compared."""

import re
import shutil

import pytest
from playwright.sync_api import expect

from duel_campaigns import OLD, Truth, plan_of_two, write_campaign

pytestmark = pytest.mark.browser

PATIENT_MS = 120_000

QUICK = """
title = "Harbour: quiet night"
mode = "ft8"
root_seed = 5
axis = { values = [-21, -17] }
stop = { trials_per_point = 4, nothing_sent = 1 }

[[conditions]]
name = "quiet band"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]
"""


def test_a_duel_grows_blind_and_is_revealed(page, server, folder, accessible, portrait):
    (folder / "night.toml").write_text(QUICK, encoding="utf-8")
    page.goto(f"{server.url}duel")
    expect(page.get_by_text("No plan of this bench has two receivers")).to_be_visible()
    page.get_by_label("Name of the new plan").fill("efforts")
    page.get_by_label("Trials at each value, at most").fill("6")
    page.get_by_role("button", name="Make the plan").click()
    expect(page).to_have_url(re.compile("name=efforts"), timeout=PATIENT_MS)
    expect(page.get_by_label("One receiver")).to_contain_text("belief-propagation")
    page.get_by_role("button", name="Carry it out").click()
    expect(page.locator("#view")).to_be_visible(timeout=PATIENT_MS)
    page.reload()
    expect(page.locator("#far")).to_contain_text("finished", timeout=PATIENT_MS)
    expect(page.locator("#record")).to_contain_text("Blind", timeout=PATIENT_MS)
    expect(page.locator("#sentence")).to_contain_text(re.compile(r"\bA\b.*\bB\b"))
    assert "belief-propagation, 4 passes" not in page.locator("#sentence").inner_text()
    for name in ("share of messages decoded by A and by B", "how the decision grew"):
        expect(page.locator("svg").and_(page.get_by_label(name))).to_be_visible()
    accessible(page.url, ready="#tables table")
    page.get_by_role("button", name="Show who is who").click()
    expect(page.locator("#names")).to_contain_text("belief-propagation", timeout=PATIENT_MS)
    expect(page.locator("#record")).to_contain_text("Decided blind")
    portrait(page, "duel")
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Open its page").click()
    expect(opened.value.get_by_role("heading", name="Who is who")).to_be_visible(timeout=PATIENT_MS)


def compared(page, *, first, second):
    form = page.locator("#compare")
    form.get_by_label("Campaign").nth(0).select_option(first[0])
    form.get_by_label("Curve").nth(0).select_option(first[1])
    form.get_by_label("Campaign").nth(1).select_option(second[0])
    form.get_by_label("Curve").nth(1).select_option(second[1])
    form.get_by_role("button", name="Compare").click()
    said = page.locator("#compared p").first
    expect(said).to_be_visible(timeout=PATIENT_MS)
    return said


def test_two_campaigns_are_compared_or_refused_with_reasons(harbour, page, server):
    shutil.copytree(harbour / "harbour.campaign", harbour / "copy.campaign")
    page.goto(f"{server.url}duel")
    quiet, fence = "quiet band/builtin", "electric fence/builtin"
    said = compared(page, first=("harbour", quiet), second=("copy", fence))
    expect(said).to_contain_text("dB", timeout=PATIENT_MS)
    expect(said).not_to_have_class("refused")
    truths = {(0, 0): Truth(), (0, 1): Truth()}
    write_campaign(harbour / "other.campaign", truths, plan_of_two(n=4, mode="ft4"))
    page.reload()
    other = f"quiet band/{OLD}"
    said = compared(page, first=("harbour", quiet), second=("other", other))
    expect(said).to_contain_text("these two must not be compared")
    expect(said).to_have_class("refused")
