"""What a duel says on every kind of axis, of several conditions, and of trials that share luck."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tomli_w

from duel_campaigns import Truth, plan_of_two, write_campaign
from solidcopy.actions import plan_trials as planning_action
from solidcopy.actions.plan_trials import Goal
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.pace import Pace
from solidcopy.reports.duel_facts import CostDuel, DuelFacts
from solidcopy.reports.duel_gather import Asked, gather_duel
from solidcopy.reports.duel_page import duel_page
from solidcopy.reports.duel_supports import pairs_words, supports
from solidcopy.reports.duel_words import Names, cost_words, headline
from solidcopy.reports.measured import Estimate
from solidcopy.statistics.duel import FEW_UNLIKE
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.pairs import equal_shares_p, mcnemar_exact, sign_flip
from solidcopy.statistics.planning import POWER

pytestmark = pytest.mark.derived

NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}
QUIET = {"name": "quiet", "impairments": [NOISE]}
LOW = {"name": "low", "sending": {"audio_hz": 700.0}, "impairments": [NOISE]}
TENS = range(0, 60, 10)
CARRIER = {"kind": "carrier", "offset_hz": 20.0}


def facts_of(folder: Path, truths: dict, plan=None, **chance) -> DuelFacts:
    """A is the first receiver, B the second."""
    with JournalReader(write_campaign(folder, truths, plan, **chance)) as reader:
        return gather_duel(reader, Asked((0, 1)))


def test_positive_means_that_b_needs_more(tmp_path):
    facts = facts_of(tmp_path, {(0, 0): Truth(-21.5), (0, 1): Truth(-20.5)})
    found = facts.overall.difference
    assert isinstance(found, Estimate) and found.interval.holds(1.0) and found.value > 0.5
    assert headline(facts, Names()).startswith("A gets the same share through at ")
    lean = facts.overall.lean
    assert lean.counts.n == sum(point.counts.n for point in facts.conditions[0].points) == 480
    assert lean.counts.n_only_a > lean.counts.n_only_b


def test_interference_that_one_stands_more_of(tmp_path):
    noise, carrier = {**NOISE, "snr_db": -10.0}, {**CARRIER, "interference_to_noise_db": "axis"}
    plan = plan_of_two([{"name": "carrier", "impairments": [noise, carrier]}])
    falling = Truth(-21.5, is_falling=True)
    facts = facts_of(
        tmp_path, {(0, 0): falling, (0, 1): replace(falling, threshold_db=-22.5)}, plan
    )
    said = headline(facts, Names())
    assert said.startswith("A gets the same share through at ")
    assert " dB more interference than B (95 %: " in said
    assert facts.overall.snr.bias_a_db is None  # the axis is no SNR


def test_a_ratio_that_one_gets_by_with(tmp_path):
    noise, carrier = {**NOISE, "snr_db": -10.0}, {**CARRIER, "signal_to_interference_db": "axis"}
    plan = plan_of_two([{"name": "carrier", "impairments": [noise, carrier]}])
    facts = facts_of(tmp_path, {(0, 0): Truth(-20.5), (0, 1): Truth(-21.5)}, plan)
    assert "B gets the same share through at " in headline(facts, Names())
    assert " dB lower S/I of the carrier than A (95 %: " in headline(facts, Names())


def test_an_axis_without_a_rise_is_judged_by_its_pairs(tmp_path):
    noise = {**NOISE, "snr_db": -20.0}
    plan = plan_of_two(
        [
            {
                "name": "offset",
                "impairments": [
                    noise,
                    {**CARRIER, "offset_hz": "axis", "interference_to_noise_db": 0.0},
                ],
            }
        ],
        axis={"values": [-20.0, 0.0, 20.0, 40.0]},
    )
    facts = facts_of(tmp_path, {(0, 0): Truth(-40.0), (0, 1): Truth(80.0)}, plan)
    said = headline(facts, Names())
    assert said.startswith(
        "A gets more messages through than B (trials that only one got: 240 to 0"
    )
    assert "how far apart the two are cannot be told" in said
    assert facts.difference_wanted is None


def test_a_side_that_decodes_nothing_gives_a_limit(tmp_path):
    facts = facts_of(tmp_path, {(0, 0): Truth(), (0, 1): Truth(10.0)})
    found = facts.overall.difference
    assert isinstance(found, NoThreshold) and found.bound == "above"
    said = headline(facts, Names())
    assert said.startswith("A gets the same share through at ")
    assert " dB or more less signal than B (95 % sure; B: " in said


def test_several_conditions_give_a_mean_and_count_a_trial_once(tmp_path):
    plan = plan_of_two([QUIET, LOW])
    truths = {(0, 0): Truth(), (1, 0): Truth(), (0, 1): Truth(-22.5), (1, 1): Truth(-22.0)}
    facts = facts_of(tmp_path, truths, plan)
    first, second = (c.sides for c in facts.conditions)
    mean = facts.overall.difference
    assert isinstance(mean, Estimate)
    assert isinstance(first.difference, Estimate) and isinstance(second.difference, Estimate)
    assert mean.value == pytest.approx((first.difference.value + second.difference.value) / 2)
    # As wide as the two are on average: they met the same noise.
    widths = [s.difference.interval.half_width for s in (first, second)]
    assert mean.interval.half_width == pytest.approx(sum(widths) / 2)
    lean, counts = facts.overall.lean, facts.overall.lean.counts
    assert counts == first.lean.counts + second.lean.counts
    assert lean.wins.n_b < counts.n_only_b
    assert "all 2 conditions together" in lean.unit
    said = headline(facts, Names())
    assert said.startswith("Over 2 conditions: B gets the same share through at ")
    assert [line.split(":")[0] for line in supports(facts, Names())[:2]] == ["“quiet”", "“low”"]


def test_trials_that_share_a_run_of_fading_count_once(tmp_path):
    fading = {"kind": "two-path-fading", "delay_ms": 1.0, "spread_hz": 0.5, "trials_together": 10}
    plan = plan_of_two([{"name": "fading", "impairments": [fading, NOISE]}])
    facts = facts_of(tmp_path, {(0, 0): Truth(), (0, 1): Truth(-22.5)}, plan)
    lean = facts.overall.lean
    assert facts.conditions[0].n_together == 10
    assert lean.unit == "group of 10 trials that share their fading"
    assert lean.wins.n_a + lean.wins.n_b <= 8 * 6  # 60 trials at each of 8 axis values
    assert lean.counts.n_unlike > lean.wins.n_a + lean.wins.n_b
    # The same test as in the campaign's report; at each axis value too, groups are whole.
    with JournalReader(tmp_path) as reader:
        paired = reader.paired((0, 0), (0, 1))
    assert lean.p_exact == equal_shares_p(paired)
    for shown, point in zip(facts.conditions[0].points, paired.points, strict=True):
        net = [point.decoded_b[i : i + 10].sum() - point.decoded_a[i : i + 10].sum() for i in TENS]
        assert shown.p_exact == sign_flip(np.array(net, np.int64))
        if shown.counts.n_unlike > 10:  # then some share a group
            assert shown.p_exact > mcnemar_exact(shown.counts.n_only_a, shown.counts.n_only_b)
    assert "each group of 10 trials that share their fading, taken as one" in pairs_words(
        facts.overall
    )


def test_reported_snr_is_compared_where_both_decoded(tmp_path):
    truths = {(0, 0): Truth(), (0, 1): Truth(snr_bias_db=1.0)}
    facts = facts_of(tmp_path, truths)
    snr = facts.overall.snr
    assert snr.n_trials == facts.overall.lean.counts.n_both
    assert isinstance(snr.difference_db, Estimate) and snr.difference_db.interval.holds(1.0)
    assert snr.bias_b_db == pytest.approx(1.0, abs=0.25)
    assert any(
        "B reports " in line and " dB more SNR than A" in line for line in supports(facts, Names())
    )


def test_times_are_medians_so_that_a_slow_start_does_not_count(tmp_path):
    facts = facts_of(tmp_path, {(0, 0): Truth(cpu_s=0.1), (0, 1): Truth(cpu_s=0.61)})
    cost = facts.overall.cost
    assert isinstance(cost, CostDuel) and cost.ratio == pytest.approx(6.1)
    assert cost_words(cost) == "B takes 6.1 times the processor time (A 100 ms, B 610 ms a slot)"
    near = replace(cost, b_s=0.105)
    assert cost_words(near).startswith("both take about the same processor time")


def test_nothing_run_yet_says_so(tmp_path):
    plan = plan_of_two()
    with JournalReader(write_campaign(tmp_path, {}, plan)) as reader:
        facts = gather_duel(reader, Asked((0, 1)))
    assert headline(facts, Names()).startswith("No trial was answered by both yet")
    assert facts.n_done == 0 and facts.n_planned == 2 * (8 * 60 + 20)


def test_the_page_names_nobody_while_blind_and_escapes_names(tmp_path):
    facts = facts_of(tmp_path, {(0, 0): Truth(), (0, 1): Truth(-22.5)})
    blind = duel_page(facts, Names(), blind_words="Blind.")
    assert "Who is who" not in blind and 'id="duel-1-' in blind
    seen = duel_page(facts, Names("<b>one</b>", "two & three"), blind_words="Seen.")
    assert "<b>one</b>" not in seen and "&lt;b&gt;one&lt;/b&gt;" in seen
    assert "http://" not in seen.replace("http://www.w3.org", "").replace(
        "http://creativecommons", ""
    )


def test_not_yet_and_the_planning_of_trials_ask_for_the_same(tmp_path, monkeypatch):
    """One journal, read as a duel that is open and as the pilot of a plan."""
    plan, wanted_db = plan_of_two(n=150), 0.1
    file, folder = tmp_path / "two.toml", tmp_path / "two.campaign"
    file.write_text(tomli_w.dumps(plan.model_dump(mode="json", exclude_none=True)), "utf-8")
    write_campaign(folder, {(0, 0): Truth(), (0, 1): Truth()}, plan, shared=0.3)
    with JournalReader(folder) as reader:
        duel = gather_duel(reader, Asked((0, 1), wanted_db)).overall
    assert duel.needed is not None and duel.lean.counts.n_unlike > FEW_UNLIKE
    pace = Pace(10.0, 9.0, 11.0, 8, 1)
    monkeypatch.setattr(planning_action, "measure_pace", lambda *_, **__: pace)
    planned = planning_action.plan_trials(file, Goal(None, wanted_db, power=POWER))
    in_all = duel.lean.counts.n + duel.needed.n_trials
    # Four such journals differed by 0.1 to 0.4 %: likelihood here, information there.
    assert planned.per_point * len(plan.axis.points()) == pytest.approx(in_all, rel=0.02)
