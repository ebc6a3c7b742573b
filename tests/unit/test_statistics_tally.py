"""Tallies, intervals and what they refuse."""

import math

import pytest

from solidcopy.statistics.evidence import Interval, NoEvidence
from solidcopy.statistics.interval import clopper_pearson, rate_interval, wilson
from solidcopy.statistics.tally import Tally


def test_a_crash_is_not_a_miss():
    tally = Tally(n_decoded=8, n_missed=2, n_failed=5)
    assert (tally.n_scored, tally.n_trials) == (10, 15)
    assert tally.p_decoded() == 0.8
    assert tally.decode_interval() == wilson(8, 10)
    assert tally.decode_interval(0.9, "exact") == clopper_pearson(8, 10, 0.9)


def test_tallies_add():
    whole = Tally(3, 2, 1, 1, 2) + Tally(1, 0, 4, 1, 1)
    assert whole == Tally(4, 2, 5, 2, 3)
    assert Tally() + whole == whole


def test_false_decodes_have_their_own_figures():
    tally = Tally(n_decoded=90, n_missed=10, n_false_trials=2, n_false_decodes=5)
    assert tally.p_false() == 0.02
    assert tally.false_interval() == clopper_pearson(2, 100)
    assert tally.false_rate_interval() == rate_interval(5, 100)


@pytest.mark.parametrize("tally", [Tally(), Tally(n_failed=4)])
def test_nothing_measured_is_no_evidence_and_never_zero(tally):
    answers = [
        tally.p_decoded(),
        tally.p_false(),
        tally.decode_interval(),
        tally.false_interval(),
        tally.false_rate_interval(),
    ]
    assert all(isinstance(answer, NoEvidence) for answer in answers)
    assert ("failed" in answers[0].reason) == (tally.n_failed > 0)


@pytest.mark.parametrize(
    "counts",
    [
        {"n_decoded": -1},
        {"n_decoded": 1, "n_false_trials": 2, "n_false_decodes": 2},
        {"n_decoded": 3, "n_false_trials": 2, "n_false_decodes": 1},
        {"n_decoded": 3, "n_false_decodes": 1},
        {"n_decoded": 3, "n_false_trials": 1},
    ],
)
def test_impossible_tallies_are_refused(counts):
    with pytest.raises(ValueError, match=r"negative|more trials|disagree"):
        Tally(**counts)


def test_an_unknown_method_is_refused():
    with pytest.raises(ValueError, match="wilson"):
        Tally(1, 1).decode_interval(0.95, "guess")


def test_interval_knows_its_middle_and_refuses_nonsense():
    interval = Interval(1.0, 4.0, 0.9, "by hand")
    assert interval.half_width == 1.5
    assert interval.holds(1.0)
    assert interval.holds(4.0)
    assert not interval.holds(4.1)
    for low, high, confidence in ((2, 1, 0.9), (0, math.inf, 0.9), (math.nan, 1, 0.9), (0, 1, 1)):
        with pytest.raises(ValueError, match=r"interval|confidence"):
            Interval(low, high, confidence, "by hand")
