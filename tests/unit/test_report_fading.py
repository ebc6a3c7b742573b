"""Fading in a report: what the trials met, the form of a curve, and how it is said."""

from dataclasses import replace

import numpy as np
import pytest

from report_facts import condition, curve, facts_of
from solidcopy.impairments.path.multipath import Tap, independent_fades
from solidcopy.modes.registry import mode_named
from solidcopy.reports.answer import answer
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.curves import Counted, curve_facts, read
from solidcopy.reports.describe import condition_facts
from solidcopy.reports.fading import curve_form, fades_facts, fading_method
from solidcopy.reports.measured import FadesFacts, Line
from solidcopy.statistics.faded import FadedTable
from solidcopy.statistics.points import Points
from solidcopy.statistics.tally import Tally
from solidcopy.trials.plan import parse_plan

FT8 = mode_named("ft8").facts
NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}
PRESET = {"kind": "two-path-fading", "preset": "mid-latitude quiet"}
OWN = {
    "kind": "multi-path-fading",
    "paths": [{"spread_hz": 0.5}, {"spread_hz": 0.5, "delay_ms": 1.5}],
    "trials_together": 4,
}


def plan_of(*impairments, noise=NOISE, values=(-24.0, -18.0, -12.0)):
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 1,
            "axis": {"values": list(values)},
            "stop": {"trials_per_point": 10},
            "conditions": [{"name": "c", "impairments": [noise, *impairments]}],
        }
    )


def fades_of(plan, n_trials=10):
    tallies = {value: Tally(n_decoded=n_trials) for value in plan.axis.points()}
    return fades_facts(plan.conditions[0], tallies, FT8)


@pytest.mark.derived
def test_fades_of_independent_trials():
    """Each of 30 transmissions of 12.64 s meets what its own time holds."""
    fades = fades_of(plan_of(PRESET))
    one = independent_fades([Tap(0.0, 0.1)], 12.64)
    assert fades == FadesFacts("c", 1, (pytest.approx(one), pytest.approx(one)), 30, fades.n_fades)
    assert fades.n_fades == pytest.approx(30 * one)


@pytest.mark.derived
def test_fades_of_trials_together():
    """At each of three values: two runs of four slots, and one of the two that are left."""
    fades = fades_of(plan_of(OWN))
    run, rest = (independent_fades([Tap(0.0, 0.5)], 15.0 * n) for n in (4, 2))
    assert fades.n_fades == pytest.approx(3 * (2 * run + rest))


def test_swept_spread_has_least_and_most():
    swept = {"kind": "two-path-fading", "delay_ms": 1.0, "spread_hz": "axis"}
    fixed = {"kind": "gaussian-noise", "snr_db": -15.0}
    plan = plan_of(swept, noise=fixed, values=(0.1, 10.0))
    low, high = fades_of(plan).in_transmission
    assert low == pytest.approx(independent_fades([Tap(0.0, 0.1)], 12.64))
    assert high == pytest.approx(independent_fades([Tap(0.0, 10.0)], 12.64))
    assert curve_form(plan.conditions[0], axis_facts(plan)) == "probit"


def test_form_is_free_only_where_the_signal_fades():
    for impairments, form in (((), "probit"), ((PRESET,), "faded"), ((OWN,), "faded")):
        plan = plan_of(*impairments)
        assert curve_form(plan.conditions[0], axis_facts(plan)) == form
    assert fades_of(plan_of()) is None


def test_numbers_behind_a_preset_and_of_each_path_are_shown():
    plan = plan_of(PRESET, OWN)
    _, _, preset, own = condition_facts(plan, plan.conditions[0]).parts
    assert preset.head == "Two-path fading"
    assert dict(preset.numbers)["delay of the second path"] == "0.5 ms"
    assert dict(preset.numbers)["spread of each path"] == "0.1 Hz"
    assert own.head == "Multi-path fading"
    assert any("1.5 ms" in value for _, value in own.numbers)


def slow_fading(n=200):
    values = np.arange(-26.0, 5.0, 2.0)
    below = FadedTable.of(0.15).evaluate((values + 21.0) / 4.343)[0]
    k = np.random.default_rng(4).binomial(n, below)
    tallies = {
        float(x): Tally(n_decoded=int(d), n_missed=int(n - d))
        for x, d in zip(values, k, strict=True)
    }
    return tallies, Points.of(tallies, unit="dB")


def test_curve_of_slow_fading_is_skewed_and_says_so():
    tallies, points = slow_fading()
    axis = axis_facts(plan_of(PRESET))
    counted = Counted(tallies, read(points, axis, "faded"))
    found = curve_facts("c", "r", counted, axis=axis, mode=FT8)
    assert isinstance(found.line, Line)
    assert "outage of a fading signal" in found.line.form
    assert not found.line.is_doubtful
    assert found.threshold(0.5).at.interval.holds(-21.0 + 1.6)
    assert found.threshold(0.9).at.interval.holds(-21.0 + 9.8)
    fades = FadesFacts("c", 1, (2.6, 2.6), 3200, 8320.0)
    facts = facts_of(conditions=(condition("c"),), curves=(found,))
    facts = replace(facts, fades=(fades,))
    (sentence,) = fading_method(facts)
    assert f"Found: {found.line.form} for “c”." in sentence
    assert fading_method(facts_of()) == []


def test_answer_tells_how_many_fades_were_met():
    fades = (
        FadesFacts("quiet", 1, (2.6, 2.6), 60, 156.7),
        FadesFacts("fence", 4, (6.6, 6.6), 60, 447.3),
    )
    said = " ".join(
        answer(replace(facts_of(curves=(curve(), curve("fence"))), fades=fades)).supports
    )
    assert "“quiet” about 160 in 60 trials" in said
    assert "“fence” about 450 in 60 trials (4 in a row share one run" in said
    assert "fades" not in " ".join(answer(facts_of()).supports)
