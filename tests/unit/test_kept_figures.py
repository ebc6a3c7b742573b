"""What is kept of a campaign equals what is worked out anew; whoever writes voids it."""

import random
import threading
import time
from itertools import pairwise
from pathlib import Path

import pytest

from made_journal import HERE, curves_plan, finished, map_plan, write_made_journal
from report_examples import shared_campaign
from solidcopy.actions import watch_campaign
from solidcopy.actions.kept import Kept, stamp_of
from solidcopy.actions.kept_figures import KEPT_FILE, keep_figures, kept_figures
from solidcopy.actions.list_campaigns import AT_WORK_WORDS, campaign_card
from solidcopy.actions.watch_campaign import CampaignWatch, watch_of
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.errors import JournalError
from solidcopy.reports.answer import answer
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.gather import gather, gather_figures

pytestmark = pytest.mark.derived


def figures_of(folder: Path) -> CampaignFacts:
    with JournalReader(folder) as reader:
        return gather_figures(reader)


@pytest.mark.parametrize("seed", range(3))
def test_kept_figures_are_those_of_the_journal(tmp_path: Path, seed: int) -> None:
    """Random journals, written in lots while they are watched."""
    chance = random.Random(seed)
    plan = curves_plan(chance.randint(3, 25), n_conditions=1, n_silent=seed)
    rows = list(finished(plan))
    chance.shuffle(rows)
    cuts = sorted(chance.sample(range(1, len(rows)), 2))
    stamps = set()
    with JournalWriter(tmp_path, plan, HERE) as writer:
        watch = CampaignWatch(tmp_path)
        for first, last in pairwise([0, *cuts, len(rows)]):
            writer.append(rows[first:last])
            stamp, facts = watch.figures(is_exact=True)
            assert (stamp, facts) == (stamp_of(tmp_path), figures_of(tmp_path))
            assert kept_figures(tmp_path) == (stamp, facts)
            # A server that was just started finds the same without a fit.
            assert CampaignWatch(tmp_path).figures() == (stamp, facts)
            assert CampaignWatch(tmp_path).state("x").n_done == last
            # While a run goes on, the same watch may rest for a second before it looks again.
            until_s = time.monotonic() + 10.0
            while watch.state("x").n_done != last:
                assert time.monotonic() < until_s
                time.sleep(0.1)
            stamps.add(stamp)
    assert len(stamps) == 3 and facts.extent.is_finished


def test_whatever_facts_there_are_come_back_from_the_file(tmp_path: Path) -> None:
    write_made_journal(tmp_path / "map", map_plan(2))
    for folder in (tmp_path / "map", shared_campaign()):
        with JournalReader(folder) as reader:
            facts = gather(reader)
        keep_figures(tmp_path, "a stamp", facts)
        assert kept_figures(tmp_path) == ("a stamp", facts)


def test_a_file_that_is_of_no_use_is_forgotten(tmp_path: Path) -> None:
    assert kept_figures(tmp_path) is None
    keep_figures(tmp_path, "a stamp", figures_of(shared_campaign()))
    whole = (tmp_path / KEPT_FILE).read_bytes()
    for content in (whole[:-5], b"", b"[]", whole.replace(b'"program":"', b'"program":"0')):
        (tmp_path / KEPT_FILE).write_bytes(content)
        assert kept_figures(tmp_path) is None


def test_a_started_server_fits_nothing_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = curves_plan(20, n_conditions=1)
    write_made_journal(tmp_path, plan)
    card = campaign_card("made", tmp_path, is_exact=True)
    assert card.sentence == answer(figures_of(tmp_path)).headline
    watch_of.cache_clear()

    def gathered(_: object) -> CampaignFacts:
        raise AssertionError("nothing was written")

    monkeypatch.setattr(watch_campaign, "gather_figures", gathered)
    assert campaign_card("made", tmp_path, is_exact=True) == card
    with JournalWriter(tmp_path, curves_plan(21, n_conditions=1), HERE) as writer:
        writer.append(item for item in finished(plan) if item.key.trial_index == 0)
    with pytest.raises(AssertionError, match="nothing was written"):
        campaign_card("made", tmp_path, is_exact=True)


def test_a_card_comes_before_its_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_made_journal(tmp_path, curves_plan(10, n_conditions=1))
    gate, facts = threading.Event(), figures_of(tmp_path)

    def gathered(_: object) -> CampaignFacts:
        gate.wait(60)
        return facts

    monkeypatch.setattr(watch_campaign, "gather_figures", gathered)
    early = campaign_card("made", tmp_path, is_exact=False)
    assert (early.sentence, early.is_settled, early.n_done) == (AT_WORK_WORDS, False, 220)
    gate.set()
    card = campaign_card("made", tmp_path, is_exact=True)
    assert (card.sentence, card.is_settled) == (answer(facts).headline, True)
    assert campaign_card("made", tmp_path, is_exact=False) == card


def test_an_older_value_is_given_while_the_newer_one_takes_long() -> None:
    gate, made = threading.Event(), []

    def make() -> int:
        made.append(1)
        if len(made) > 1:
            gate.wait(30)
        return len(made)

    kept = Kept(make, ("old", 0))
    assert kept.get("a") == ("a", 1)
    kept = Kept(make, ("old", 0))
    started_s = time.monotonic()
    assert kept.get("b") == ("old", 0)
    assert time.monotonic() - started_s < 10
    gate.set()
    assert kept.get("b", is_exact=True) == ("b", 2)
    assert len(made) == 2


def test_what_went_wrong_is_told_to_who_waits() -> None:
    def make() -> int:
        raise JournalError("no")

    kept = Kept(make)
    for _ in range(2):
        with pytest.raises(JournalError, match="no"):
            kept.get("a")
