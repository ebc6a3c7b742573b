"""Eighty columns of text."""

import pytest

from report_facts import condition, estimate, facts_of, penalty
from solidcopy.campaigns.progress import CurveProgress, PointProgress, Progress
from solidcopy.reports.terminal import WIDTH, live_curves, progress_text, summary_text

LONG = "a very long name of a condition by the harbour wall"


@pytest.mark.derived
def test_the_summary_fits_and_keeps_units_with_numbers() -> None:
    shift = estimate(4.12, 3.71, 4.49)
    conditions = (condition("quiet"), condition(LONG))
    text = summary_text(facts_of(conditions=conditions, penalties=(penalty(shift, name=LONG),)))
    assert all(len(line) <= WIDTH for line in text.splitlines())
    assert "\u00a0" not in text
    assert text.startswith("With “a very long name")
    assert "+4.1 (+3.7 to +4.5)" in text
    assert "−21.3 (−21.5 to −21.2)" in text
    assert "first" in text
    assert not any(line.lstrip().startswith(("dB", "%")) for line in text.splitlines())


@pytest.mark.derived
def test_two_receivers_get_rows_of_their_own() -> None:
    shift = estimate(-1.31, -1.69, -0.92)
    compared = penalty(
        shift, compares="receiver", name="patient", against="builtin", within="quiet"
    )
    text = summary_text(
        facts_of(
            conditions=(condition("quiet"),),
            receivers=("builtin", "patient"),
            penalties=(compared,),
        )
    )
    assert "quiet, patient" in text
    assert "of it, from the first receiver" in text
    assert "−1.3 (−1.7 to −0.9)" in text


@pytest.mark.derived
def test_an_empty_campaign_has_no_table() -> None:
    text = summary_text(facts_of(n_done=0, is_finished=False))
    assert "condition " not in text.replace("conditions", "")


@pytest.mark.derived
def test_live_curves_show_shares_as_eighths() -> None:
    text = live_curves({"quiet": {-22.0: (8, 0), -21.0: (8, 4), -20.0: (8, 8), -19.0: (0, 0)}})
    assert text.splitlines()[0].split(maxsplit=1) == ["quiet", "_ ▄ █ ·"]
    assert text.splitlines()[1].split() == ["−22", "−19"]


@pytest.mark.derived
def test_a_share_short_of_all_is_not_drawn_as_all() -> None:
    text = live_curves({"quiet": {0.0: (1000, 999), 1.0: (1000, 1)}})
    assert text.splitlines()[0].split(maxsplit=1)[1] == "▇ ▁"


@pytest.mark.derived
def test_many_values_still_fit() -> None:
    counts = {LONG: {float(v): (10, 5) for v in range(500)}}
    assert all(len(line) <= WIDTH for line in live_curves(counts).splitlines())
    assert live_curves({}) == ""


@pytest.mark.derived
def test_progress_has_its_line_and_its_curves() -> None:
    points = (PointProgress(-22.0, 1, 8), PointProgress(-20.0, 8, 8))
    curve = CurveProgress(0, 0, "quiet", "builtin", points)
    progress = Progress(16, 32, 0, 2.0, 8.0, (curve,), False, "")
    text = progress_text(progress)
    assert text.splitlines()[0] == progress.line()
    assert "▁ █" in text
