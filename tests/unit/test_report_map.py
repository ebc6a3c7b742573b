"""Maps in reports: facts, sentences, figures, tables, page and terminal, from known hills."""

import csv
import io
import json
import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from report_examples import shared_report, write_campaign
from report_maps import (
    OFFSETS_HZ,
    map_campaign,
    map_report,
    over_offsets,
    true_half_db,
    true_halves_db,
)
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.progress import progress_of
from solidcopy.reports.answer import answer
from solidcopy.reports.gather import gather
from solidcopy.reports.map_facts import first_of, folded, hardest, map_facts, map_rows
from solidcopy.reports.map_figures import cell_edges
from solidcopy.reports.map_tables import bounded, map_sheet
from solidcopy.reports.measured import Estimate, Line
from solidcopy.reports.page import sampled
from solidcopy.reports.terminal import WIDTH, progress_text, summary_text
from solidcopy.reports.write import write_report
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.trials.plan import Plan


def only_map(plan: Plan, width_hz: float = 50.0) -> tuple[float, float] | None:
    (found,) = map_facts(plan, width_hz)
    return found.signal_band


@pytest.mark.derived
def test_the_wanted_band_lies_where_the_offset_counts_from() -> None:
    """From the lowest tone, but band noise from the middle; other fields have no band."""
    carrier, noise = {"kind": "carrier"}, {"kind": "gaussian-noise", "snr_db": "axis"}
    level = {"interference_to_noise_db": 0}

    def plan_of(**fields: object) -> Plan:
        one = {"name": "one", "impairments": [noise, {**level, **fields}]}
        return over_offsets(map={"values": [100, 200]}, conditions=[one])

    assert only_map(plan_of(**carrier, offset_hz="map")) == (0.0, 50.0)
    band = {"kind": "band-noise", "width_hz": 200, "offset_hz": "map"}
    assert only_map(plan_of(**band)) == (-25.0, 25.0)
    assert only_map(plan_of(**{**band, "offset_hz": 0, "width_hz": "map"})) is None


@pytest.mark.derived
def test_thresholds_follow_the_hill() -> None:
    """Intervals of 95 %: of twelve, one may miss, two with a chance of 2 %."""
    facts = map_report().facts
    n_missed = 0
    for a_map, height_db in zip(facts.maps, (42.5, 50.5), strict=True):
        rows = map_rows(facts, a_map, "builtin")
        assert [row.value for row in rows] == list(OFFSETS_HZ)
        for row in rows:
            truth_db = true_half_db(row.value, height_db)
            if truth_db < -42.5:
                assert isinstance(row.half, NoThreshold) and row.half.bound == "below"
            elif isinstance(row.half, Estimate):
                n_missed += not row.half.interval.holds(truth_db)
        worst = hardest(facts, rows)
        assert worst is not None and worst.value == 25.0
    assert n_missed <= 1


@pytest.mark.derived
def test_another_map_is_compared_value_for_value() -> None:
    facts = map_report().facts
    assert not any(p.name.startswith("steady") for p in facts.penalties)
    penalty = next(p for p in facts.penalties if p.name == "keyed, offset 25 Hz" and p.p == 0.5)
    assert penalty.against == "steady, offset 25 Hz"
    assert isinstance(penalty.shift, Estimate)
    assert penalty.shift.interval.holds(8.0)
    assert "from “steady” at the same value" in map_sheet(facts, facts.maps[1]).note


@pytest.mark.derived
def test_a_plain_first_condition_is_the_baseline_of_every_value() -> None:
    quiet = {"name": "quiet", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]}
    carrier = {"kind": "carrier", "offset_hz": "map", "interference_to_noise_db": 0}
    plan = over_offsets(
        conditions=[
            quiet,
            {"name": "c", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}, carrier]},
        ]
    )
    assert [first_of(plan, place) for place in range(3)] == [None, 0, 0]


def test_sentences_say_where_it_harms_most_and_what_is_not_sure() -> None:
    said = answer(map_report().facts)
    assert said.headline.startswith("“steady” harms most where the carrier's offset from the")
    assert "half of the messages still get through while it is 1" in said.headline
    assert "stronger than the signal (95 %: 1" in said.headline
    assert any(
        "With “steady” more than half get through even at S/I of the carrier −40 dB at 2 of 6 "
        "values (−100, 125 Hz)." in support
        for support in said.supports
    )
    assert sum("harms most where" in text for text in said.supports) == 1  # the keyed one's


def test_a_carrier_that_must_be_weaker_is_said_so(tmp_path: Path) -> None:
    plan = over_offsets(axis={"start": -10, "stop": 20, "step": 5})
    halves_db = true_halves_db(plan, {"steady": 65.0, "keyed": 65.0})
    write_campaign(tmp_path, plan, halves_db, n_trials=20, n_silent=2)
    with JournalReader(tmp_path) as reader:
        said = answer(gather(reader))
    assert "for half of the messages to get through, the signal must be " in said.headline
    assert "dB stronger than it (95 %: " in said.headline


def test_harmless_and_hopeless_maps_have_words(tmp_path: Path) -> None:
    plan = over_offsets()
    halves_db = true_halves_db(plan, {"steady": 0.0, "keyed": 90.0})
    write_campaign(tmp_path, plan, halves_db, n_trials=20, n_silent=2)
    with JournalReader(tmp_path) as reader:
        said = answer(gather(reader))
    assert said.headline == (
        "“steady” never takes half of the messages away, at any of 6 values of the map: more than "
        "half get through even at S/I of the carrier −40 dB."
    )
    assert said.supports[0].startswith(
        "“keyed” takes more than half of the messages away over the whole axis, even at S/I of the "
        "carrier 0 dB, at 2 of 6 values (25 to 50 Hz)"
    ) or said.supports[0].startswith(
        "“keyed” takes more than half of the messages away over the whole axis, even at S/I of the "
        "carrier 0 dB, at 3 of 6 values (0 to 50 Hz)"
    )


@pytest.mark.derived
def test_folding_keeps_every_count() -> None:
    facts = map_report().facts
    rest = folded(facts)
    assert not rest.conditions and not rest.curves and not rest.penalties
    for field in ("n_trials", "n_false_decodes"):
        assert sum(getattr(f, field) for f in rest.false_decodes) == sum(
            getattr(f, field) for f in facts.false_decodes
        )
    assert {f.condition for f in rest.false_decodes} == {"steady", "keyed"}
    assert {level.condition for level in rest.levels} == {"steady", "keyed"}
    assert len(rest.levels) == len(facts.levels)


@pytest.mark.derived
def test_only_drawn_curves_have_a_band() -> None:
    on_map = [curve.line for curve in map_report().facts.curves]
    assert sum(isinstance(line, Line) for line in on_map) > 6
    assert not any(isinstance(line, Line) and line.band_values for line in on_map)
    drawn = [curve.line for curve in shared_report().facts.curves]
    assert all(isinstance(line, Line) and line.p_low for line in drawn)


@pytest.mark.derived
def test_cells_reach_halfway_to_their_neighbours() -> None:
    assert cell_edges([0.0, 10.0, 40.0]).tolist() == [-5.0, 5.0, 25.0, 55.0]
    assert np.diff(cell_edges([7.0]))[0] == 1.0


def test_bounds_are_rounded_to_their_weak_side() -> None:
    assert bounded(NoThreshold("", "below", -40.0)) == "at most −40.0"
    assert bounded(NoThreshold("", "below", -40.04)) == "at most −40.0"
    assert bounded(NoThreshold("", "above", 3.04)) == "at least 3.0"
    assert bounded(NoThreshold("no idea")) == "–"


def test_the_page_sums_a_map_up() -> None:
    paths = map_report().paths
    page = paths.html.read_text(encoding="utf-8")
    heads = re.findall(r"<h2[^>]*>([^<]+)</h2>", page)
    assert {"Map of steady", "Map of keyed"} <= set(heads)
    assert "Thresholds and differences" not in heads  # there is no condition beside the maps
    assert page.count("<figure>") == page.count("<svg") == 2 * 2 + 2  # a map: two, and a sample
    assert "map-thresholds.csv" in page
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for path in paths.svgs:
        assert ElementTree.parse(path).getroot().tag.endswith("svg")
    names = [path.name for path in paths.svgs]
    assert names[:4] == ["map-1.svg", "map-1-shares.svg", "map-2.svg", "map-2-shares.svg"]


def test_the_sample_of_a_map_is_its_most_harmful() -> None:
    assert sampled(map_report().facts) == ("steady, offset 25 Hz", "keyed, offset 25 Hz")


def test_an_unfinished_map_has_a_page(tmp_path: Path) -> None:
    plan = over_offsets()
    write_campaign(
        tmp_path, plan, true_halves_db(plan, {"steady": 0, "keyed": 0}), n_trials=0, n_silent=0
    )
    page = write_report(tmp_path, tmp_path / "report").paths.html.read_text(encoding="utf-8")
    assert "Map of keyed" in page
    assert "Nothing is measured yet." in page


@pytest.mark.derived
def test_tables_for_other_programs_hold_every_cell() -> None:
    paths = map_report().paths
    thresholds, shares = (
        list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
        for path in paths.map_csvs
    )
    assert [path.name for path in paths.map_csvs] == ["map-thresholds.csv", "map-shares.csv"]
    assert len(thresholds) == 12 and len(shares) == 12 * 9
    assert sum(int(row["n_decoded"]) + int(row["n_missed"]) for row in shares) == 12 * 9 * 20
    far = thresholds[0]
    assert far["threshold_50"] == "" and far["bound_50"].startswith("below -40")
    near = next(row for row in thresholds if (row["map"], row["map_value"]) == ("keyed", "25.0"))
    assert float(near["low_50"]) < float(near["threshold_50"]) < float(near["high_50"])
    assert near["compared_with"] == "steady, offset 25 Hz"
    facts = json.loads(paths.json.read_text(encoding="utf-8"))
    assert facts["maps"][0]["places"][0] == {"value": -100.0, "condition": "steady, offset -100 Hz"}
    assert set(facts["about"]["keys"]) | {"about"} == set(facts)


def test_the_terminal_needs_a_line_for_each_value() -> None:
    lines = summary_text(map_report().facts).splitlines()
    assert max(map(len, lines)) <= WIDTH
    start = lines.index("steady: carrier's offset from the lowest tone, Hz")
    assert lines[start + 2].split()[:4] == ["−100", "at", "most", "−40.0"]
    assert len(lines) < 12 + 30
    with JournalReader(map_campaign()) as reader:
        shown = progress_text(progress_of(reader)).splitlines()
    assert len(shown) == 1 + 2 + 1  # the line, a row for each map, the axis
