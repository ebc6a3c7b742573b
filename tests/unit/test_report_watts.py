"""Differences of a report in watts and antennas."""

import pytest

from report_examples import shared_report, two_conditions, write_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.gather import gather
from solidcopy.reports.measured import Estimate
from solidcopy.reports.page import page_html, shown_page
from solidcopy.reports.watts import distance_words, in_power, power_words, watts_sentences
from solidcopy.reports.wording import rough, two_digits
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.translate.power import Ends, translated


@pytest.mark.derived
def test_words_of_a_difference() -> None:
    # 10^0.41 = 2.570, 10^0.37 = 2.344, 10^0.45 = 2.818; times 5 W: 12.85 W; 4.1 / 6 = 0.68.
    assert power_words(translated(Ends(4.1, 3.7, 4.5), 5.0)) == (
        "about 2.6 times the power (2.3 to 2.8), e.g. 13 W instead of 5 W; or 4.1 dB more "
        "antenna gain; nominally 0.7 S-units"
    )
    assert power_words(translated(Ends(-3.0, -4.0, -2.0), 100.0)) == (
        "about 0.50 times the power (0.40 to 0.63), e.g. 50 W instead of 100 W; or 3.0 dB less "
        "antenna gain; nominally 0.5 S-units"
    )
    # 10^-0.05 = 0.891, 10^0.09 = 1.230.
    assert power_words(translated(Ends(0.2, -0.5, 0.9), 5.0)) == (
        "no difference is shown (0.89 to 1.2): 4.5 to 6.2 W instead of 5 W would do the same"
    )
    assert "in free space only, it is 0.50 times the distance;" in distance_words(
        translated(Ends(6.0206, 6.0206, 6.0206), 5.0)
    )
    # A narrow interval gets the digits that it needs: 10^0.049 = 1.1194, 10^0.051 = 1.1246.
    assert power_words(translated(Ends(0.5, 0.49, 0.51), 20.0)).startswith(
        "about 1.122 times the power (1.119 to 1.125), e.g. 22.44 W instead of 20 W; or 0.50 dB"
    )


@pytest.mark.derived
@pytest.mark.parametrize(
    ("value", "text"),
    [(12.85, "13"), (2.0, "2.0"), (0.394, "0.39"), (154.0, "150"), (0.0, "0"), (9.96, "10")],
)
def test_rough_figures(value, text) -> None:
    assert two_digits(value) == text
    assert rough(1.1246, 3) == "1.12"


def test_the_page_says_every_difference_in_watts() -> None:
    report = shared_report()
    (said, *_) = watts_sentences(report.facts)
    penalty = report.facts.penalties[0]
    assert isinstance(penalty.shift, Estimate)
    times = two_digits(10.0 ** (penalty.shift.value / 10.0))
    assert said.startswith("“neighbour's carrier” against “quiet”, 50 % of the messages: about ")
    assert f"about {times} times the power" in said
    html = report.paths.html.read_text(encoding="utf-8")
    assert "In watts and antennas" in html
    assert "nominally 6\u00a0dB" in html


def test_an_axis_that_is_no_signal_has_no_watts(tmp_path) -> None:
    carrier = {"kind": "carrier", "interference_to_noise_db": "axis", "offset_hz": 18.0}
    noise = {"kind": "gaussian-noise", "snr_db": -15.0}
    plan = two_conditions(
        axis={"start": -10, "stop": 10, "step": 5},
        conditions=[
            {"name": "a", "impairments": [noise, carrier]},
            {"name": "b", "impairments": [noise, {**carrier, "offset_hz": 30.0}]},
        ],
    )
    write_campaign(tmp_path, plan, [0.0, 3.0], is_falling=True)
    with JournalReader(tmp_path) as reader:
        facts = gather(reader)
    assert any(in_power(penalty) is not None for penalty in facts.penalties)
    assert watts_sentences(facts) == ()
    unseen = tuple(NoEvidence("no sample here") for _ in facts.conditions)
    assert "In watts and antennas" not in page_html(shown_page(facts, unseen))
