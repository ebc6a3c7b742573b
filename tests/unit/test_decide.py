"""The questions of `solidcopy decide`: answers from campaigns and by hand, and what is refused."""

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm
from typer.testing import CliRunner

from report_examples import shared_campaign, two_conditions, write_campaign
from solidcopy.actions.decide.delivery import Wishes, delivery_by_chance, delivery_of
from solidcopy.actions.decide.link import NoiseHere, PathLoss, Stations, link_facts
from solidcopy.actions.decide.noise import Measured
from solidcopy.actions.decide.subject import read_subject, subject_by_hand
from solidcopy.cli.main import app
from solidcopy.errors import SolidcopyError
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.translate.chances import AloneChances, RunChances
from solidcopy.translate.power import Ends
from solidcopy.translate.repeats import exchange_within


def run(*words: str) -> str:
    """What a command prints; the error's sentence if it is refused."""
    result = CliRunner().invoke(app, ["decide", *words])
    if isinstance(result.exception, SolidcopyError):
        assert result.exception.exit_code != 0
        return f"REFUSED: {result.exception}"
    assert result.exit_code == 0, result.output
    return result.output


def at_quiet(subject, x: float) -> float:
    chance = subject.chances.attempts(1)
    return float(chance(np.full((subject.chances.n_draws, 1), x)).mean())


@pytest.mark.derived
def test_a_curve_by_hand_goes_through_its_points() -> None:
    subject = subject_by_hand("ft8", -20.8, -19.9)
    assert at_quiet(subject, -20.8) == pytest.approx(0.5)
    assert at_quiet(subject, -19.9) == pytest.approx(0.9)


def test_a_curve_of_a_campaign() -> None:
    subject = read_subject(shared_campaign(), "quiet", None)
    assert isinstance(subject.chances, AloneChances)
    assert at_quiet(subject, -21.0) == pytest.approx(0.5, abs=0.2)  # made so, 30 trials a point
    facts = delivery_of(subject, Wishes())
    assert [question.n_attempts for question in facts.questions] == [1, 2, 4, 10, 20, 0, 0, 0]
    for row in facts.rows:
        chances = [cell.value for cell in row.cells if isinstance(cell, Ends)]
        assert chances[:5] == sorted(chances[:5])  # more attempts, more chance
        assert chances[5:] == sorted(chances[5:])
    firsts = [row.cells[0].value for row in facts.rows if isinstance(row.cells[0], Ends)]
    assert firsts == sorted(firsts)


def slow_fading(folder: Path, spread_hz: float, n_together: int) -> Path:
    fading = {
        "kind": "two-path-fading",
        "delay_ms": 0.5,
        "spread_hz": spread_hz,
        "trials_together": n_together,
    }
    plan = two_conditions(
        axis={"values": [-24, -21, -18]},
        stop={"trials_per_point": 40, "nothing_sent": 0},
        conditions=[
            {
                "name": "slow",
                "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}, fading],
            }
        ],
    )
    write_campaign(folder, plan, [-21.0], n_trials=40, n_silent=0)
    return folder


def test_fading_that_outlasts_a_repeat_is_read_from_runs(tmp_path) -> None:
    subject = read_subject(slow_fading(tmp_path, 0.01, 10), None, None)
    assert isinstance(subject.chances, RunChances)
    assert "12 runs of 10 slots" in subject.basis
    facts = delivery_of(subject, Wishes(minutes=(1.0, 2.0, 10.0)))
    # Runs of ten slots hold 2 and 4 attempts, not 20; a contact of 8 slots, not of 40.
    kinds = [isinstance(cell, Ends) for cell in facts.rows[1].cells]
    assert kinds == [True, True, True, False, True, False]
    missing = facts.rows[1].cells[3]
    assert isinstance(missing, NoEvidence)
    assert "trials_together = 39" in missing.reason


@pytest.mark.parametrize(
    ("spread_hz", "n_together", "kind"), [(0.1, 10, AloneChances), (0.01, 1, RunChances)]
)
def test_when_attempts_stand_alone(tmp_path, spread_hz, n_together, kind) -> None:
    subject = read_subject(slow_fading(tmp_path, spread_hz, n_together), None, None)
    assert isinstance(subject.chances, kind)
    # Trials with fading of their own say nothing of a repeat in slow fading.
    assert isinstance(subject.chances.attempts(2), NoEvidence) == (kind is RunChances)


@pytest.mark.derived
def test_delivery_by_hand_is_the_closed_form() -> None:
    facts = delivery_by_chance("ft8", 0.4, Wishes())
    assert facts.sentence == "For 90 % it takes 5 attempts: 2.25 minutes."  # 1 - 0.6^5 = 0.922
    cells = [cell.value for cell in facts.rows[0].cells]
    assert cells[:5] == pytest.approx([1.0 - 0.6**n for n in (1, 2, 4, 10, 20)])
    chain = exchange_within([np.array(0.4)] * 5, 40)
    assert cells[5:] == pytest.approx([chain[7], chain[19], chain[39]])


@pytest.mark.derived
def test_a_path_without_unknowns_is_its_budget() -> None:
    # -79.840 dBm of signal as in the budget worked by hand (test_translate_link.py), less 105 dB
    # of path; noise as measured: -91.0 dBm. The rest of the sum is not repeated here.
    subject = subject_by_hand("ft8", -20.8, -19.9)
    facts = link_facts(
        subject,
        Stations(20.0, 2.15, 1.0, 1.0, 5.0, 12.0),
        PathLoss(given_db=155.0),
        NoiseHere(measured=Measured(-91.0, 2500.0)),
        7.1,
    )
    snr = facts.outcome.snr_db
    assert snr.low == snr.high == pytest.approx(-109.840 + 91.0, abs=0.01)
    one = facts.outcome.over_hours[0]
    assert isinstance(one, Ends)
    assert one.value == pytest.approx(at_quiet(subject, snr.value), abs=1e-6)


@pytest.mark.derived
def test_repeats_do_not_mend_a_noisy_hour() -> None:
    """Against a plain loop over hours: within one hour all attempts meet the same noise."""
    subject = subject_by_hand("ft8", -20.8, -19.9)
    noise = NoiseHere("residential", Measured(-91.0, 2500.0))
    facts = link_facts(subject, Stations(20.0), PathLoss(given_db=155.0), noise, 7.1)
    draw = np.random.default_rng(9)
    z = draw.standard_normal(20_000)
    # FACTS C1: deciles of residential noise in time, 10.6 dB up and 5.3 dB down.
    deviation = np.where(z > 0, 10.6, 5.3) / 1.28155 * z
    signal_dbm = 10.0 * np.log10(20.0 / 1e-3) - 155.0
    snr = signal_dbm - (-91.0 + deviation)  # the receiver's own noise is 39 dB below
    p = norm.cdf((snr + 20.8) / (0.9 / 1.28155))
    for place, n in ((0, 1), (4, 20)):
        cell = facts.outcome.over_hours[place]
        assert isinstance(cell, Ends)
        # 200 hours of each of 300 stations; the middle station scatters by 0.002.
        assert cell.value == pytest.approx(float(np.mean(1.0 - (1.0 - p) ** n)), abs=0.015)
    assert facts.outcome.over_hours[4].value < 0.95  # independence would promise > 99 %


def test_commands_answer() -> None:
    campaign = str(shared_campaign())
    said = " ".join(run("power", campaign, "--watts", "10").split())
    assert "times the power" in said and "instead of 10 W" in said
    said = " ".join(run("power", "--db", "4.1", "--low-db", "3.7", "--high-db", "4.5").split())
    assert "About 2.6 times the power (2.3 to 2.8), e.g. 13 W instead of 5 W" in said
    assert "in free space only" in said
    said = run("noise", "--mhz", "7", "--noise-dbm", "-98", "--noise-hz", "500")
    assert "usual in city, residential and rural surroundings" in " ".join(said.split())
    assert "neither a pass mark nor a proof" in " ".join(said.split())
    said = run("noise", "--mhz", "14")
    assert "quiet rural   20.8             −119.2" in said  # FACTS C2
    said = run(
        *("link", campaign, "--condition", "quiet", "--mhz", "7", "--watts", "20"),
        *("--path-loss-db", "150", "--surroundings", "quiet-rural", "--galactic"),
    )
    assert "The budget, every number in its middle" in said


def test_the_table_is_written_to_print(tmp_path) -> None:
    words = ("delivery", str(shared_campaign()), "--condition", "1", "--watts", "5")
    said = run(*words, "--level-now", "-21", "--out", str(tmp_path / "table"))
    assert "5 W" in said
    html = (tmp_path / "table" / "delivery.html").read_text(encoding="utf-8")
    markdown = (tmp_path / "table" / "delivery.md").read_text(encoding="utf-8")
    for text in (html, markdown):
        assert "How surely a message gets through" in text
        assert "10 W" in text
    assert "<script" not in html and "http" not in html


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("power", "give a campaign, or a difference"),
        ("power --db 3 --low-db 2", "give both ends"),
        ("power --db 3 --low-db 4 --high-db 5", "does not lie between"),
        ("power --db nan", "must lie between"),
        ("power --db 3 --watts 0", "more than 0 W"),
        ("power /nowhere", "no campaign was begun there"),
        ("noise --mhz 7 --noise-dbm -98", "needs its bandwidth"),
        ("noise --mhz 0.1", "between 0.3 and 250 MHz"),
        ("noise --mhz 7 --noise-dbm 99 --noise-hz 500", "between -200 and 30 dBm"),
        ("noise --mhz 7 --noise-dbm -98 --noise-hz 0", "1 Hz or more"),
        ("noise --mhz 7 --noise-dbm -98 --noise-hz 500 --noise-error-db -1", "0 and 40 dB"),
        ("link --mhz 7 --watts 5", "say which curve"),
        ("link --mhz 7 --watts 5 --half-db -20 --ninety-db -21", "must lie above"),
        ("link --mhz 7 --watts 5 --half-db -21 --ninety-db -20", "say what the noise is"),
        (
            "link --mhz 7 --watts 5 --half-db -21 --ninety-db -20 --surroundings village",
            "city, residential, rural, quiet-rural",
        ),
        (
            "link --mhz 7 --watts 5 --half-db -21 --ninety-db -20 --surroundings city",
            "by sky wave or along the ground",
        ),
        (
            "link --mhz 7 --watts 5 --half-db -21 --ninety-db -20 --surroundings city "
            "--free-space-km 0",
            "more than 0 km",
        ),
        (
            "link --mhz 7 --watts 5 --half-db -21 --ninety-db -20 --surroundings city "
            "--path-loss-db 120 --noise-figure-db -3",
            "noise figure must lie between",
        ),
        ("delivery --chance 140", "between 0 and 100 %"),
        ("delivery --chance 40 --minutes 1,x", "no list of minutes"),
        ("delivery --chance 40 --minutes 0", "must lie above 0"),
        ("delivery --chance 40 --wanted 100", "share wanted"),
        ("delivery --half-db -21 --ninety-db -20 --watts 5", "together"),
        ("delivery --half-db -21 --ninety-db -20 --watts 5 --level-now 90", "check the level now"),
    ],
)
def test_refusals_are_one_sentence(words, sentence) -> None:
    said = run(*words.split())
    assert said.startswith("REFUSED: ")
    assert sentence in said
    assert "\n" not in said


def test_a_campaign_with_several_conditions_wants_a_name() -> None:
    said = run("delivery", str(shared_campaign()))
    assert said.startswith("REFUSED: ") and "“quiet”" in said and "--condition" in said
