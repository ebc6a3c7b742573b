"""The campaign's page: a run as it grows, what it says, and the trials behind a point.

Where a journal must grow step by step, the test itself is the process that writes it.
"""

import re

import pytest
from playwright.sync_api import expect

from bench_server import Server
from report_examples import PLACE_OF, outcome_of, two_conditions, write_campaign
from report_maps import over_offsets
from solidcopy.actions.folder import SUFFIX
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.browser

SOON_MS = 30_000
"""First figures of a campaign are fitted before they are shown."""
ONE_POINT = """
title = "One point"
mode = "ft8"
root_seed = 3
axis = { values = [-10] }
stop = { trials_per_point = 2, nothing_sent = 0 }

[[conditions]]
name = "noise"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[receivers]]
kind = "builtin"
"""


def points(page):
    return page.locator("#curves .pick")


def far(page):
    return page.locator("#far")


class Writer:
    """A run whose steps are those of the test."""

    def __init__(self, folder, plan):
        self.plan = plan
        self.journal = JournalWriter(folder, plan, PLACE_OF)

    def add(self, condition, axis_value, indexes, *, decoded):
        """Outcomes of one point."""
        keys = [TrialKey(condition, SENT, axis_value, index) for index in indexes]
        self.journal.append(
            [
                Finished(key, 0, self._outcome(key, is_decoded=key.trial_index in decoded))
                for key in keys
            ]
        )
        self.journal.settle()

    def _outcome(self, key, *, is_decoded):
        return outcome_of(self.plan, key, is_decoded=is_decoded, is_real=False)


@pytest.fixture
def growing(folder):
    """A run of one condition over three values, forty trials each, none written yet."""
    plan = two_conditions(
        title="Growing",
        axis={"values": [-22, -21, -20]},
        stop={"trials_per_point": 40, "nothing_sent": 0},
        conditions=[
            {"name": "quiet", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]}
        ],
    )
    writer = Writer(folder / f"growing{SUFFIX}", plan)
    yield writer
    writer.journal.close()


def test_the_curve_grows_while_it_runs(page, server, growing):
    page.goto(f"{server.url}campaigns/growing")
    expect(far(page)).to_have_text("0 of 120, running", timeout=SOON_MS)
    answer = page.locator("#answer")
    expect(answer).to_contain_text("Nothing has been measured yet", timeout=SOON_MS)
    growing.add(0, -21.0, range(20), decoded=range(10))
    expect(points(page)).to_have_count(1, timeout=SOON_MS)
    expect(far(page)).to_have_text("20 of 120, running")
    expect(page.locator("#work")).to_contain_text("At work: “quiet” at −21 dB.")
    growing.add(0, -22.0, range(20), decoded={0})
    growing.add(0, -20.0, range(20), decoded=range(19))
    expect(points(page)).to_have_count(3, timeout=SOON_MS)
    expect(page.locator("#curves .band")).to_have_count(1)
    expect(page.locator("#pace")).to_contain_text("per second, at most")
    expect(answer).to_contain_text("dB")
    # A second window and a reload read the same journal.
    other = page.context.new_page()
    for window in (page, other):
        window.goto(f"{server.url}campaigns/growing")
        expect(points(window)).to_have_count(3, timeout=SOON_MS)
    for value in (-22.0, -21.0, -20.0):
        growing.add(0, value, range(20, 40), decoded=range(20, 30))
    growing.journal.close()
    for window in (page, other):
        expect(far(window)).to_have_text("120 of 120, finished", timeout=SOON_MS)
        expect(points(window).nth(1)).to_have_attribute(
            "aria-label", re.compile("^quiet, −21 dB: 20 of 40 decoded, 50 % "), timeout=SOON_MS
        )
        expect(window.get_by_role("button", name="Stop")).to_be_disabled()


def test_cells_of_a_map_fill(page, server, folder, portrait):
    plan = over_offsets(axis={"values": [-20, -10]}, map={"values": [0.0, 25.0, 100.0]})
    writer = Writer(folder / f"offsets{SUFFIX}", plan)
    page.goto(f"{server.url}campaigns/offsets")
    cells = page.locator("section[aria-labelledby=map-0] .cell")
    expect(cells).to_have_count(6, timeout=SOON_MS)
    expect(page.locator("section[aria-labelledby=map-0] .cell.untried")).to_have_count(6)
    writer.add(0, -10.0, range(4), decoded={0, 1, 2})
    untried = page.locator("section[aria-labelledby=map-0] .cell.untried")
    expect(untried).to_have_count(5, timeout=SOON_MS)
    writer.add(2, -20.0, range(4), decoded={})
    expect(untried).to_have_count(4, timeout=SOON_MS)
    # The upper row is the larger value; by keyboard to the first cell that was tried.
    first = page.get_by_role("button", name="0 Hz at −10 dB: 3 of 4 decoded", exact=False).first
    first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#trials-words")).to_contain_text("4 of 4 trials")
    link = page.locator("#trials-list a").first
    assert "condition=steady%2C+offset+0+Hz" in link.get_attribute("href")
    writer.journal.close()
    portrait(page, "map")


def test_a_point_opens_its_trials(page, server, harbour):
    page.goto(f"{server.url}campaigns/harbour")
    expect(points(page)).to_have_count(10, timeout=SOON_MS)
    points(page).nth(2).click()
    words = page.locator("#trials-words")
    expect(words).to_have_text("“quiet band” at −20 dB: 16 of 16 trials listed.")
    rows = page.locator("#trials-list tbody tr")
    expect(rows).to_have_count(16)
    where = rows.first.get_by_role("link").get_attribute("href")
    assert where == "/campaigns/harbour/trial?condition=quiet+band&axis_value=-20&index=0"
    # The next curve, by keyboard: down to it, right along it, Enter.
    points(page).nth(2).focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    expect(words).to_contain_text("“electric fence” at −22 dB")
    page.get_by_role("combobox", name="Show").select_option("missed only")
    expect(words).to_contain_text("of 16 trials listed")
    verdicts = rows.locator("td")
    assert set(verdicts.all_inner_texts()) == {"missed"}
    # The address holds it all: a reload, or the way back from a trial, shows it again.
    n_missed = rows.count()
    page.reload()
    again = f"“electric fence” at −22 dB: {n_missed} of 16 trials listed"
    expect(words).to_contain_text(again, timeout=SOON_MS)


def test_another_campaign_and_another_bandwidth(page, server, harbour, portrait):
    plan = two_conditions(title="Inland", axis={"values": [-23, -21, -19]})
    write_campaign(harbour / f"inland{SUFFIX}", plan, [-21, -20])
    page.goto(f"{server.url}campaigns/harbour")
    name = page.locator("#curves .axis-name").first
    expect(name).to_have_text("SNR in 2500 Hz, dB", timeout=SOON_MS)
    expect(page.locator("#curves > svg .line")).not_to_have_count(0)
    n_own = points(page).count()
    expect(page.get_by_role("button", name="Compare")).to_be_hidden()
    page.get_by_label("Laid over it").select_option("inland: Inland")
    expect(points(page)).to_have_count(n_own + 6, timeout=SOON_MS)
    expect(page.get_by_role("button", name="inland: quiet", exact=True)).to_be_visible()
    dashes = {
        line.evaluate("line => getComputedStyle(line).strokeDasharray")
        for line in page.locator("#curves > svg .line").all()
    }
    assert len(dashes) == page.locator("#curves > svg .line").count()
    page.get_by_label("Axis read as").select_option("C/N0: SNR in 1 Hz")
    expect(name).to_have_text("C/N0 (SNR in 1 Hz), dB-Hz")
    # −24 dB in 2500 Hz; 10 lg 2500 = 33.979 dB by hand.
    expect(points(page).first).to_have_attribute("aria-label", re.compile("9.979 dB-Hz"))
    thresholds = page.get_by_role("table", name="Thresholds: C/N0 (SNR in 1 Hz), dB-Hz")
    expect(thresholds.get_by_role("row")).to_have_count(1 + 2 + 2)
    # How far the two lie apart, in the words of the command line.
    page.get_by_role("button", name="Compare").click()
    said = page.locator("#against-words")
    itself = "A is “quiet band” heard by “builtin” in harbour.campaign"
    expect(said).to_contain_text(itself, timeout=SOON_MS)
    expect(said.get_by_role("listitem").first).to_contain_text("Half of the messages")
    portrait(page, "campaign")
    page.reload()
    expect(points(page)).to_have_count(n_own + 6, timeout=SOON_MS)
    expect(name).to_have_text("C/N0 (SNR in 1 Hz), dB-Hz")
    # Choose which are shown.
    page.get_by_role("button", name="inland: quiet", exact=True).click()
    expect(points(page)).to_have_count(n_own + 3)


def test_its_numbers_are_the_reports(page, server, harbour):
    page.goto(f"{server.url}campaigns/harbour")
    named = "Differences from the first, judged in pairs"
    own = page.get_by_role("table", name=named).inner_text(timeout=SOON_MS)
    answer = page.locator("#answer").inner_text()
    page.get_by_role("link", name="Report", exact=True).click()
    plain = {ord("\u00a0"): " "}
    written = page.get_by_role("table", name=named).inner_text()
    assert own.translate(plain).split() == written.translate(plain).split()
    assert page.locator(".answer").inner_text().translate(plain) == answer


def test_failures_are_told_and_long_lists_come_in_pages(page, server, folder):
    plan = two_conditions(
        axis={"values": [-22, -20]}, stop={"trials_per_point": 120, "nothing_sent": 0}
    )
    write_campaign(
        folder / f"fails{SUFFIX}", plan, [-21, -20], n_trials=120, n_failed=5, n_silent=0
    )
    page.goto(f"{server.url}campaigns/fails")
    expect(far(page)).to_have_text("480 of 480, finished, 20 failed")
    table = page.get_by_role("table", name=re.compile("^Failures"))
    expect(table).to_contain_text("crash", timeout=SOON_MS)
    expect(page.get_by_role("button", name="Try the failed ones again")).to_be_enabled()
    points(page).first.click()
    reach = page.locator("#trials-far")
    expect(reach).to_have_text("1 to 50 of 120")
    later = page.get_by_role("button", name="Later")
    later.click()
    expect(reach).to_have_text("51 to 100 of 120")
    later.click()
    expect(reach).to_have_text("101 to 120 of 120")
    expect(later).to_be_disabled()
    page.get_by_role("button", name="Earlier").click()
    expect(reach).to_have_text("51 to 100 of 120")
    page.get_by_role("combobox", name="Show").select_option("failed only")
    expect(reach).to_have_text("1 to 5 of 5")
    assert set(page.locator("#trials-list td").all_inner_texts()) == {"failed"}


def test_a_campaign_that_was_never_run(page, server, folder):
    (folder / "point.toml").write_text(ONE_POINT)
    page.goto(f"{server.url}campaigns/point")
    expect(page.locator("#standing")).to_have_text("not begun", timeout=SOON_MS)
    expect(page.locator("#answer")).to_have_text("Nothing tried yet.")
    page.get_by_role("button", name="Begin").click()
    expect(far(page)).to_have_text("2 of 2, finished", timeout=120_000)
    expect(points(page)).to_have_count(1, timeout=SOON_MS)


def test_a_killed_server_leaves_the_page_in_use(page, server, harbour):
    page.goto(f"{server.url}campaigns/harbour")
    expect(points(page)).to_have_count(10, timeout=SOON_MS)
    server.kill()
    expect(page.get_by_role("status")).to_contain_text("goes on", timeout=SOON_MS)
    page.get_by_role("button", name="electric fence", exact=True).click()
    expect(points(page)).to_have_count(5)
    again = Server(harbour, server.port)
    try:
        expect(page.get_by_role("status")).to_have_text("", timeout=SOON_MS)
        points(page).first.click()
        expect(page.locator("#trials-list tbody tr")).to_have_count(16)
    finally:
        again.kill()


def test_it_can_be_used_by_everybody(accessible, server, harbour):
    where = "campaigns/harbour?of=harbour&condition=quiet+band&receiver=builtin&at=-20"
    accessible(server.url + where, ready="#trials-list table")
