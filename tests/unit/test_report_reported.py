"""Reported levels in a report: held against the right truth, marked where luck speaks."""

import csv
import io
import json
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import numpy as np
import pytest
import scipy.stats

from report_examples import CARRIER, PLACE_OF, shared_report, two_conditions
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.receivers.receiver import Decode
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.gather import gather
from solidcopy.reports.measured import Estimate
from solidcopy.reports.reported_facts import OVER_ALL, OVER_NOISE, ReportedFacts, ReportedLine
from solidcopy.reports.reported_tables import lines_sheet, pairs_sheet, points_sheet, reported_csv
from solidcopy.reports.reported_truth import TrueLevels, true_levels
from solidcopy.reports.reported_words import reported_sentences
from solidcopy.reports.tables import facts_json
from solidcopy.reports.write import write_report
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import SENT, LevelReading, Readings

N_TRIALS = 200
SCATTER_DB = 1.2
OFFSET_DB = 0.5
CUT_DB = -21.0
"""The first receiver decodes what it reports above this; the second 2 dB more, but reads lower."""
INTERFERENCE_TO_NOISE_DB = -6.0


def level(quantity: str, got_db: float, name: str = "something") -> LevelReading:
    return LevelReading(name, quantity, got_db, got_db, 0.02, -20.0, -20.0, -7.0, 13.0)


def readings(*levels: LevelReading, path_gain_db: float = 0.0) -> Readings:
    return Readings(-40.0, levels, -20.0, -6.5, 13.5, 0, 0.0, path_gain_db)


def plan() -> Plan:
    return two_conditions(
        title="What do they report?",
        axis={"start": -23, "stop": -9, "step": 2},
        stop={"trials_per_point": N_TRIALS, "nothing_sent": 0},
        receivers=[
            {"kind": "builtin", "name": "high"},
            {"kind": "builtin", "name": "low", "effort": "belief-propagation"},
            {"kind": "builtin", "name": "mute", "passes": 1},
        ],
    )


def outcome(reported_db: float | None, *, is_decoded: bool, beside: Readings) -> Outcome:
    right = Decode("CQ Q1ABC FN42", 1500.0, 0.0, reported_db) if is_decoded else None
    verdict = Verdict.DECODED if is_decoded else Verdict.MISSED
    return Outcome(verdict, right, (), 0.1, "00" * 32, beside)


def write(folder: Path, asked: Plan) -> None:
    """Both conditions report the S/N alone: what the carrier adds is not noticed."""
    luck = np.random.default_rng(5)
    finished = []
    for value in asked.axis.points():
        draws = SCATTER_DB * luck.standard_normal(N_TRIALS)
        for condition in range(2):
            levels = [level("SNR in 2500 Hz", value)]
            if condition:
                levels.append(level("I/N in 2500 Hz", INTERFERENCE_TO_NOISE_DB, "carrier"))
            for index in range(N_TRIALS):
                heard = value + OFFSET_DB + float(draws[index])
                answers = (
                    (heard, heard > CUT_DB),
                    (heard - 0.8, heard > CUT_DB - 2.0),
                    (None, heard > CUT_DB),
                )
                for receiver, (reported, is_decoded) in enumerate(answers):
                    score = outcome(reported, is_decoded=is_decoded, beside=readings(*levels))
                    key = TrialKey(condition, SENT, value, index)
                    finished.append(Finished(key, receiver, score))
    with JournalWriter(folder, asked, PLACE_OF) as journal:
        journal.append(finished)
        journal.settle()


@cache
def made() -> tuple[Path, CampaignFacts]:
    folder = Path(mkdtemp(prefix="solidcopy-")) / "reported"
    write(folder, plan())
    with JournalReader(folder) as reader:
        return folder, gather(reader)


def curve(condition: str, receiver: str, against: str) -> ReportedFacts:
    (found,) = (
        one
        for one in made()[1].reported.curves
        if (one.condition, one.receiver, one.against) == (condition, receiver, against)
    )
    return found


@pytest.mark.derived
def test_powers_add_to_the_true_levels() -> None:
    # Two noises of 0 dB make one of -3.01 dB; a disturbance as strong again leaves -4.77 dB.
    two = [level("SNR in 2500 Hz", 0.0), level("as recorded", 0.0)]
    assert true_levels(readings(*two)) == TrueLevels(pytest.approx(-3.0103, abs=1e-4), None)
    tied = true_levels(readings(*two, level("S/I", 0.0)))
    assert tied.snr_db == pytest.approx(-3.0103, abs=1e-4)
    assert tied.snir_db == pytest.approx(-4.7712, abs=1e-4)
    # An I/N of 0 dB beside both is as strong as both together: 4 units in all.
    free = true_levels(readings(*two, level("I/N in 2500 Hz", 0.0)))
    assert free.snir_db == pytest.approx(-6.0206, abs=1e-4)
    alone = true_levels(readings(level("S/I", 7.0)))
    assert alone == TrueLevels(None, pytest.approx(7.0))


@pytest.mark.derived
def test_a_fade_lowers_the_truth_of_its_own_trial() -> None:
    faded = true_levels(readings(level("SNR in 2500 Hz", -10.0), path_gain_db=-4.0))
    assert faded.snr_db == pytest.approx(-14.0)


def test_a_disturbance_that_did_not_come_adds_nothing() -> None:
    levels = level("SNR in 2500 Hz", -10.0), level("I/N in 2500 Hz", float("-inf"))
    assert true_levels(readings(*levels)) == TrueLevels(pytest.approx(-10.0), pytest.approx(-10.0))
    assert true_levels(readings()) == TrueLevels(None, None)


@pytest.mark.authority
def test_the_line_has_the_offset_and_the_excess_is_that_of_the_truncated_normal() -> None:
    found = curve("quiet", "high", OVER_NOISE)
    assert isinstance(found.line, ReportedLine)
    assert found.line.offset.interval.holds(OFFSET_DB)
    assert found.line.slope.interval.holds(1.0)
    points = {point.axis_value: point for point in found.points}
    weak = points[-21.0]
    assert not weak.is_full and isinstance(weak.excess, Estimate)
    # Outside reference: scipy.stats.truncnorm.
    low = (CUT_DB - (-21.0 + OFFSET_DB)) / SCATTER_DB
    mean = scipy.stats.truncnorm.mean(low, np.inf, loc=-21.0 + OFFSET_DB, scale=SCATTER_DB)
    expected = float(mean) - (-21.0 + OFFSET_DB)
    assert weak.excess.interval.holds(expected) and weak.excess.value > 0.3
    assert weak.luck_db == pytest.approx(expected, rel=0.15)
    assert isinstance(weak.mean, Estimate) and isinstance(weak.power_mean, Estimate)
    assert weak.power_mean.value > weak.mean.value
    assert points[-9.0].is_full and points[-9.0].excess is None


@pytest.mark.derived
def test_interference_is_held_against_both_truths() -> None:
    beside = 10.0 * np.log10(1.0 + 10.0 ** (INTERFERENCE_TO_NOISE_DB / 10.0))
    lines = [curve(CARRIER["name"], "high", against).line for against in (OVER_NOISE, OVER_ALL)]
    assert all(isinstance(line, ReportedLine) for line in lines)
    offsets = [line.offset.value for line in lines]
    assert offsets[1] - offsets[0] == pytest.approx(beside, abs=1e-6)
    with pytest.raises(ValueError, match="unpack"):
        curve("quiet", "high", OVER_ALL)  # there is no interference to hold it against


@pytest.mark.derived
def test_receivers_are_compared_on_the_trials_that_both_reported() -> None:
    (quiet, _) = made()[1].reported.pairs
    assert (quiet.receiver, quiet.against) == ("low", "high")
    assert isinstance(quiet.difference, Estimate)
    assert quiet.difference.value == pytest.approx(-0.8, abs=1e-9)
    assert quiet.n_full_pairs < quiet.n_pairs
    # The means of each receiver's own decodes differ by more: "low" counts weaker trials.
    weakest = [curve("quiet", name, OVER_NOISE).points[0].mean for name in ("low", "high")]
    means = [mean.value for mean in weakest if isinstance(mean, Estimate)]
    assert means[0] - means[1] < -1.5


def test_a_receiver_without_reports_has_no_calibration() -> None:
    assert {found.receiver for found in made()[1].reported.curves} == {"high", "low"}
    assert shared_report().facts.reported.curves == ()
    assert shared_report().paths.reported_csv is None
    assert "What the receivers report" not in shared_report().paths.html.read_text("utf-8")


def test_tables_mark_the_lucky_and_say_what_is_held_against_what() -> None:
    facts = made()[1]
    sheet = points_sheet(facts, "high")
    assert all(len(row) == len(sheet.columns) for row in sheet.rows)
    assert "report − S/N in 2500 Hz, dB (95 %)" in sheet.columns
    assert "report − S/(N+I), N in 2500 Hz, dB (95 %)" in sheet.columns
    marked = [row[1] for row in sheet.rows if row[2].endswith("*") and row[0] == "quiet"]
    assert marked == ["−23", "−21"]
    assert len(lines_sheet(facts).rows) == len(facts.reported.curves) == 6
    pairs = pairs_sheet(facts)
    assert pairs is not None and len(pairs.rows) == 2


def test_sentences_state_the_bandwidth_of_every_snr() -> None:
    said = reported_sentences(made()[1])
    assert len(said) == 4 and all(curve.against == OVER_NOISE for curve, _ in said)
    for _, sentence in said:
        assert sentence.count("in 2500 Hz") >= 2 and "luck explains at most" in sentence


def test_csv_and_json_hold_the_same_numbers() -> None:
    facts = made()[1]
    rows = list(csv.DictReader(io.StringIO(reported_csv(facts))))
    data = json.loads(facts_json(facts))["reported"]["curves"]
    points = [point for found in data for point in found["points"]]
    assert len(rows) == len(points) == 6 * 8
    for row, point in zip(rows, points, strict=True):
        assert int(row["n_reported"]) == point["n_reported"]
        if "value" in point["error"]:
            assert float(row["error_db"]) == pytest.approx(point["error"]["value"], rel=1e-8)
            assert float(row["error_low_db"]) <= float(row["error_db"])
        else:
            assert row["error_db"] == "" and "reason" in point["error"]


def test_the_page_shows_a_figure_and_a_table_for_each_receiver(tmp_path: Path) -> None:
    report = write_report(made()[0], tmp_path)
    html = report.paths.html.read_text("utf-8")
    assert html.count("<caption>Reported SNR in 2500 Hz: receiver") == 2
    assert {"reported-1.svg", "reported-2.svg"} <= {path.name for path in report.paths.svgs}
    assert report.paths.reported_csv is not None and report.paths.reported_csv.is_file()


def test_reports_of_a_map_are_left_out() -> None:
    mapped = parse_plan(
        {
            **two_conditions(axis={"values": [-12.0, -9.0]}).model_dump(exclude_none=True),
            "map": {"values": [10.0, 20.0]},
            "conditions": [
                {
                    "name": "near",
                    "impairments": [
                        {"kind": "gaussian-noise", "snr_db": "axis"},
                        {"kind": "carrier", "interference_to_noise_db": -6.0, "offset_hz": "map"},
                    ],
                }
            ],
        }
    )
    folder = Path(mkdtemp(prefix="solidcopy-")) / "mapped"
    beside = readings(level("SNR in 2500 Hz", -9.0))
    with JournalWriter(folder, mapped, PLACE_OF) as journal:
        journal.append(
            [
                Finished(
                    TrialKey(condition, SENT, value, index),
                    0,
                    outcome(-9.0, is_decoded=True, beside=beside),
                )
                for condition in range(2)
                for value in (-12.0, -9.0)
                for index in range(20)
            ]
        )
        journal.settle()
    with JournalReader(folder) as reader:
        assert gather(reader).reported.curves == ()
