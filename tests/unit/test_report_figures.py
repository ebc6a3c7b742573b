"""Figures: names as users write them, and what a figure says in words."""

import xml.etree.ElementTree as ET

import pytest

from report_facts import condition, curve, estimate, facts_of, penalty
from solidcopy.reports.curve_figures import curves_picture
from solidcopy.reports.penalty_figure import penalties_picture
from solidcopy.statistics.evidence import NoThreshold

STRANGE = ("_fence & <lamp>", "costs $5 or $6", "a long name " * 6)


@pytest.mark.derived
@pytest.mark.parametrize("name", STRANGE)
def test_any_name_can_be_drawn(name: str) -> None:
    name = name.strip()
    named = (condition("quiet"), condition(name))
    curves = (curve("quiet"), curve(name))
    picture = curves_picture(facts_of(conditions=named, curves=curves))
    drawn = " ".join(ET.fromstring(picture.labelled()).itertext())
    assert name in picture.description
    assert name in drawn.replace("\n", " ")


@pytest.mark.derived
def test_a_comparison_is_told_in_words_too() -> None:
    compared = penalty(estimate(4.12, 3.71, 4.49))
    picture = penalties_picture(facts_of(penalties=(compared,)))
    assert picture is not None
    assert "fence, 50 %: +4.1 (+3.7 to +4.5)" in picture.description
    assert "+4.1 (+3.7 to +4.5)" in picture.svg


@pytest.mark.derived
def test_without_any_figure_nothing_is_drawn() -> None:
    assert penalties_picture(facts_of(penalties=(penalty(NoThreshold("x")),))) is None
    assert penalties_picture(facts_of()) is None


@pytest.mark.derived
def test_the_same_facts_give_the_same_ink() -> None:
    assert curves_picture(facts_of()).svg == curves_picture(facts_of()).svg
