"""CSV and JSON: what is written can be read back, with units and without NaN."""

import csv
import io
import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from report_examples import shared_campaign, shared_report
from report_facts import facts_of
from solidcopy.campaigns.journal import JournalReader
from solidcopy.receivers.receiver import Decode
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate, LevelFacts
from solidcopy.reports.tables import curves_csv, facts_json, write_trials_csv
from solidcopy.trials.expand import parse_trial_key


def made() -> tuple[Path, CampaignFacts]:
    return shared_campaign(), shared_report().facts


@cache
def data() -> dict[str, Any]:
    def refuse(word: str) -> float:
        raise ValueError(word)

    return json.loads(facts_json(made()[1]), parse_constant=refuse)


def test_json_holds_the_facts_and_no_nan() -> None:
    facts = made()[1]
    assert data()["about"]["format"] == "solidcopy facts 2"
    assert data()["axis"]["unit"] == "dB"
    assert data()["root_seed"] == facts.root_seed
    for curve, read in zip(facts.curves, data()["curves"], strict=True):
        assert [p["n_decoded"] for p in read["points"]] == [p.n_decoded for p in curve.points]
        at = curve.threshold(0.5).at
        assert isinstance(at, Estimate)
        assert read["thresholds"][0]["at"]["value"] == at.value
        assert read["thresholds"][0]["at"]["interval"]["low"] == at.interval.low


@pytest.mark.frozen
def test_json_keys_are_stable() -> None:
    # Frozen on purpose: other programs read these. A change raises tables.FORMAT.
    assert list(data()) == [
        "about",
        "title",
        "notes",
        "mode",
        "axis",
        "conditions",
        "receivers",
        "curves",
        "penalties",
        "false_decodes",
        "failures",
        "levels",
        "elapsed",
        "extent",
        "root_seed",
        "fingerprint",
        "messages",
        "environment",
        "fades",
        "maps",
        "reported",
        "decisions",
    ]
    assert list(data())[1:] == list(data()["about"]["keys"])
    assert list(data()["penalties"][0]) == [
        "compares",
        "name",
        "against",
        "within",
        "p",
        "shift",
        "pairs",
        "more",
    ]


def test_an_infinite_reading_becomes_null() -> None:
    level = LevelFacts(
        "quiet", "impulses", "S/I", -3.0, 5, 5, None, None, None, None,
        float("-inf"), None, None, None, 0,
    )  # fmt: skip
    read = json.loads(facts_json(facts_of(levels=(level,))))
    assert read["levels"][0]["mean_dbfs"] is None


def test_curves_csv_has_one_row_for_each_point() -> None:
    facts = made()[1]
    rows = list(csv.DictReader(io.StringIO(curves_csv(facts))))
    assert len(rows) == 2 * 5
    assert "axis_value (SNR in 2500 Hz, dB)" in rows[0]
    for row, point in zip(rows, [p for c in facts.curves for p in c.points], strict=True):
        assert float(row["axis_value (SNR in 2500 Hz, dB)"]) == point.axis_value
        assert int(row["n_decoded"]) + int(row["n_missed"]) == int(row["n_trials"]) == 30
        assert isinstance(point.p_decoded, Estimate)
        assert float(row["wilson_low"]) == point.p_decoded.interval.low


def test_a_point_without_trials_has_empty_cells() -> None:
    facts = made()[1]
    assert "nan" not in curves_csv(facts).lower()
    assert "," not in repr(facts.curves[0].points[2].axis_value), "decimal points"


def test_trials_csv_names_every_trial() -> None:
    folder, _ = made()
    text = io.StringIO()
    with JournalReader(folder) as reader:
        plan = reader.plan
        n_rows = write_trials_csv(reader.rows(), reader.axis_unit, text)
        expected = [(row.key, row.outcome) for row in reader.rows()]
    rows = list(csv.DictReader(io.StringIO(text.getvalue())))
    assert n_rows == len(rows) == 2 * (5 * 30 + 20)
    for row, (key, outcome) in zip(rows, expected, strict=True):
        assert parse_trial_key(row["trial"], plan) == key
        assert row["verdict"] == outcome.verdict.value
        assert row["sha256"] == outcome.digest
        assert isinstance(outcome.right, Decode) == (row["right_text"] != "")


@pytest.mark.parametrize("words", ["=1+1", "+1", "-1+1", "@sum", "\tx"])
def test_no_name_runs_as_a_formula_in_a_spreadsheet(words: str) -> None:
    facts = made()[1]
    named = replace(facts, curves=(replace(facts.curves[0], condition=words),))
    rows = list(csv.DictReader(io.StringIO(curves_csv(named))))
    assert {row["condition"] for row in rows} == {f"'{words}"}
    assert float(rows[0]["axis_value (SNR in 2500 Hz, dB)"]) < 0, "numbers stay as they are"
