"""A report where trials in a row share one run of fading."""

from pathlib import Path

import numpy as np
import pytest

from report_examples import PLACE_OF, readings_of
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.receivers.receiver import Decode
from solidcopy.reports.measured import Estimate
from solidcopy.reports.sheets import false_sheet, penalties_sheet
from solidcopy.reports.write import Report, write_report
from solidcopy.statistics.interval import clopper_pearson, upper_bound_for_none, wilson
from solidcopy.statistics.pairs import mcnemar_exact
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import SENT

TOGETHER, N_TRIALS = 10, 40
FALSE = Decode("CQ Q9XYZ JO22", 700.0, 0.0)


def plan_of_groups() -> Plan:
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    fading = {
        "kind": "two-path-fading",
        "preset": "mid-latitude quiet",
        "trials_together": TOGETHER,
    }
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 3,
            "axis": {"start": -26, "stop": -8, "step": 3},
            "stop": {"trials_per_point": N_TRIALS, "nothing_sent": 0},
            "receivers": [
                {"kind": "builtin", "name": "usual"},
                {"kind": "builtin", "name": "quick", "effort": "belief-propagation"},
            ],
            "conditions": [
                {"name": "steady", "impairments": [noise]},
                {"name": "fading", "impairments": [noise, fading]},
            ],
        }
    )


def write(folder: Path) -> Report:
    """Whole groups share their luck under fading; "usual" then reports nonsense, in whole groups
    too; "quick" never does.
    """
    plan, luck = plan_of_groups(), np.random.default_rng(8)
    finished = []
    for value in plan.axis.points():
        alone, shared = luck.normal(size=N_TRIALS), luck.normal(size=N_TRIALS // TOGETHER)
        is_bad = luck.random(N_TRIALS // TOGETHER) < 0.2
        for index in range(N_TRIALS):
            group = index // TOGETHER
            for place, off in enumerate((alone[index], 3.0 * shared[group])):
                for receiver in range(2):
                    is_decoded = bool(value + off > -17.0 + receiver)
                    false = (FALSE,) if place == 1 and receiver == 0 and is_bad[group] else ()
                    right = Decode("CQ Q1ABC JO22", 1500.0, 0.1) if is_decoded else None
                    verdict = Verdict.DECODED if is_decoded else Verdict.MISSED
                    readings = readings_of(value, value)
                    outcome = Outcome(verdict, right, false, 0.1, "00" * 32, readings)
                    key = TrialKey(place, SENT, value, index)
                    finished.append(Finished(key, receiver, outcome))
    with JournalWriter(folder, plan, PLACE_OF) as journal:
        journal.append(finished)
        journal.settle()
    return write_report(folder, folder / "report")


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Report:
    return write(tmp_path_factory.mktemp("groups"))


@pytest.mark.derived
def test_false_decodes_in_whole_groups_say_less(report: Report) -> None:
    for false in report.facts.false_decodes:
        if false.arm == "nothing-sent":
            continue
        n, k = false.n_trials, false.n_with_false
        if (false.condition, false.receiver) == ("fading", "usual"):
            assert isinstance(false.p_false, Estimate)
            grouped, alone = false.p_false.interval, clopper_pearson(k, n)
            assert grouped.half_width > 2.0 * alone.half_width
            assert grouped.low < alone.low
            assert "groups" in grouped.method
        else:
            n_alone = n // TOGETHER if false.condition == "fading" else n
            assert k == 0
            assert false.upper_bound_95 == pytest.approx(upper_bound_for_none(n_alone))
    assert "each run counts as one slot" in false_sheet(report.facts).note


@pytest.mark.derived
def test_points_say_less_where_groups_share_their_luck(report: Report) -> None:
    for condition in ("steady", "fading"):
        for point in report.facts.curve(condition, "usual").points:
            assert isinstance(point.p_decoded, Estimate)
            alone = wilson(point.n_decoded, point.n_answered)
            found = point.p_decoded.interval
            if condition == "steady":
                assert found == alone
            else:
                assert found.half_width > 1.5 * alone.half_width


@pytest.mark.derived
def test_sides_are_tested_in_groups_and_the_page_says_so(report: Report) -> None:
    by_name = {(p.name, p.within): p.pairs for p in report.facts.penalties if p.p == 0.5}
    steady, fading = by_name["quick", "steady"], by_name["quick", "fading"]
    assert steady.p_value == mcnemar_exact(steady.n_only_first, steady.n_only_this)
    assert (steady.n_together, fading.n_together) == (1, TOGETHER)
    assert fading.n_only_first > 0
    assert fading.p_value is not None
    assert fading.p_value > mcnemar_exact(fading.n_only_first, fading.n_only_this)
    assert fading.test_words == "exact test on groups of 10 trials"
    assert "groups of 10 are tested" in penalties_sheet(report.facts).note
