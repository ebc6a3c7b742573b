"""What the campaign page is given: the numbers of the report, and nothing else."""

import csv
import io
import shutil
import threading

import pytest
from starlette.testclient import TestClient

from report_examples import shared_campaign, shared_report, two_conditions, write_campaign
from report_maps import map_campaign, map_report
from solidcopy.actions.background_run import RUN_LOG, start_run
from solidcopy.actions.compare_across import Asked, compare_across
from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.kept import Kept
from solidcopy.actions.show_results import WORKING
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.answer import answer
from solidcopy.reports.curve_figures import curve_name
from solidcopy.reports.decision_words import decisions_sheet
from solidcopy.reports.gather import gather, gather_figures
from solidcopy.reports.map_tables import map_thresholds_csv
from solidcopy.reports.measured import Estimate
from solidcopy.reports.sheets import false_sheet, penalties_sheet, thresholds_sheet
from solidcopy.web.app import create_app

HERE = "http://127.0.0.1:8437"


@pytest.fixture
def space(tmp_path):
    return Workspace.at(tmp_path / "bench")


@pytest.fixture
def client(space):
    return TestClient(create_app(space, ["127.0.0.1:8437"]), base_url=HERE)


@pytest.fixture
def harbour(space):
    shutil.copytree(shared_campaign(), space.folder / f"harbour{SUFFIX}")


@pytest.fixture
def offsets(space):
    shutil.copytree(map_campaign(), space.folder / f"offsets{SUFFIX}")


def results(client, name, **query):
    """Once the curves are fitted."""
    while True:
        answered = client.get(f"/api/campaigns/{name}/results", params=query)
        assert answered.status_code == 200, answered.text
        if not answered.json()["is_preliminary"]:
            return answered.json()


def test_the_numbers_are_the_reports(client, harbour):
    served, facts = results(client, "harbour"), shared_report().facts
    said = answer(facts)
    assert (served["headline"], tuple(served["supports"])) == (said.headline, said.supports)
    for shown, curve in zip(served["curves"], facts.curves, strict=True):
        assert shown["name"] == curve_name(facts, curve)
        for point, own in zip(shown["points"], curve.points, strict=True):
            counts = (own.axis_value, own.n_decoded, own.n_missed, own.n_failed)
            names = ("axis_value", "n_decoded", "n_missed", "n_failed")
            assert tuple(point[name] for name in names) == counts
            ends = own.p_decoded.interval
            assert (point["share"], point["low"], point["high"]) == (
                own.p_decoded.value,
                ends.low,
                ends.high,
            )
        for threshold, own in zip(shown["thresholds"], curve.thresholds, strict=True):
            assert isinstance(own.at, Estimate)
            assert threshold["x"] == own.at.value
            assert (threshold["low"], threshold["high"]) == (
                own.at.interval.low,
                own.at.interval.high,
            )
        assert tuple(shown["line"]["p"]) == curve.line.p
        first = shown["points"][0]
        assert first["words"].startswith(f"−23 dB: {first['n_decoded']} of 30 decoded, ")
        assert tuple(shown["line"]["p_low"]) == curve.line.p_low
    words = [t["words"] for curve in served["curves"] for t in curve["thresholds"]]
    assert words == [row[3] for row in thresholds_sheet(facts).rows]
    for shown, own in zip(served["penalties"], facts.penalties, strict=True):
        assert (shown["name"], shown["p"], shown["shift"]) == (own.name, own.p, own.shift.value)
        assert (shown["low"], shown["high"]) == (own.shift.interval.low, own.shift.interval.high)
    for key, sheet in (
        ("differences", penalties_sheet(facts)),
        ("false_decodes", false_sheet(facts)),
    ):
        assert [tuple(row) for row in served[key]["rows"]] == list(sheet.rows)
        assert served[key]["note"] == sheet.note
    assert served["verdicts"] is None and served["failures"] is None


@pytest.mark.derived
def test_another_bandwidth_moves_the_axis_and_nothing_else(client, harbour):
    """10 lg 2500 = 33.979 dB by hand."""
    planned, moved = results(client, "harbour"), results(client, "harbour", scale="1-hz")
    assert moved["axis"]["label"] == "C/N0 (SNR in 1 Hz), dB-Hz"
    for here, there in zip(planned["curves"], moved["curves"], strict=True):
        for a, b in zip(here["points"], there["points"], strict=True):
            assert b["x"] - a["x"] == pytest.approx(33.979, abs=0.0006)
            assert {**a, "x": 0, "words": ""} == {**b, "x": 0, "words": ""}
        for a, b in zip(here["thresholds"], there["thresholds"], strict=True):
            for end in ("x", "low", "high"):
                assert b[end] - a[end] == pytest.approx(33.979, abs=0.0006)
        assert here["line"]["p"] == there["line"]["p"]
        assert there["line"]["x"][0] - here["line"]["x"][0] == pytest.approx(33.979, abs=0.0006)
    # −23 dB in 2500 Hz; +33.979 makes 10.979.
    assert moved["curves"][0]["points"][0]["words"].startswith("10.979 dB-Hz: ")
    assert planned["penalties"] == moved["penalties"]
    # The report quotes the same C/N0.
    quoted = shared_report().facts.curves[0].threshold(0.5).quoted
    assert moved["curves"][0]["thresholds"][0]["x"] == pytest.approx(quoted.c_n0_db_hz)
    refused = client.get("/api/campaigns/harbour/results", params={"scale": "3-hz"})
    assert refused.status_code == 400 and "as-planned" in refused.json()["sentence"]


def test_a_map_has_the_reports_thresholds_and_counts(client, offsets):
    served, facts = results(client, "offsets"), map_report().facts
    rows = iter(csv.DictReader(io.StringIO(map_thresholds_csv(facts))))
    for a_map in served["maps"]:
        for heard in a_map["heard"]:
            for value, half, most in zip(
                a_map["values"], heard["half"], heard["most"], strict=True
            ):
                row = next(rows)
                assert (row["map"], float(row["map_value"])) == (a_map["condition"], value)
                for shown, p in ((half, "50"), (most, "90")):
                    known = None if row[f"threshold_{p}"] == "" else float(row[f"threshold_{p}"])
                    assert shown["x"] == known
                    if known is None and shown["bound"]:
                        assert row[f"bound_{p}"] == f"{shown['bound']} {shown['limit']:g}"
    assert next(rows, None) is None
    cells = served["maps"][0]["heard"][0]["cells"]
    assert len(cells) == 6 * 9
    for cell in cells:
        point = next(
            p
            for p in facts.curve(cell["condition"], "builtin").points
            if p.axis_value == cell["axis_value"]
        )
        assert (cell["n_decoded"], cell["n_answered"]) == (point.n_decoded, point.n_answered)
        assert cell["x"][0] < cell["value"] < cell["x"][1]
        assert cell["y"][0] < cell["axis_value"] < cell["y"][1]
    assert served["curves"] == [] and served["maps"][0]["signal_band"] == [0.0, 50.0]


def test_failures_stand_beside_the_shares(client, space):
    plan = two_conditions(
        axis={"values": [-22, -20]}, stop={"trials_per_point": 20, "nothing_sent": 0}
    )
    write_campaign(
        space.folder / f"fails{SUFFIX}", plan, [-21, -20], n_trials=20, n_failed=5, n_silent=0
    )
    served = results(client, "fails")
    assert [row[2:] for row in served["failures"]["rows"]] == [["crash", "10"]] * 2
    assert {p["n_failed"] for curve in served["curves"] for p in curve["points"]} == {5}
    asked = {"condition": "quiet", "axis_value": -22, "show": "failed"}
    listed = client.get("/api/campaigns/fails/trials", params=asked).json()
    assert [line["index"] for line in listed["lines"]] == [15, 16, 17, 18, 19]
    state = client.get("/api/campaigns/fails").json()
    assert state["n_failed"] == 20 and state["is_finished"]


def test_campaigns_of_the_same_axis_can_lie_over_each_other(client, space, harbour, offsets):
    other = two_conditions(title="Elsewhere", axis={"values": [-22, -20]})
    write_campaign(space.folder / f"elsewhere{SUFFIX}", other, [-21, -20], n_trials=4, n_silent=0)
    (space.folder / f"broken{SUFFIX}").mkdir()
    (space.folder / f"broken{SUFFIX}" / "journal.sqlite").write_bytes(b"no journal" * 100)
    found = client.get("/api/campaigns/harbour/beside").json()
    assert found == [{"name": "elsewhere", "title": "Elsewhere"}]
    assert client.get("/api/campaigns/offsets/beside").json() == []


def test_a_plan_that_was_never_run_has_a_state(client, space):
    (space.folder / "new.toml").write_text("")
    state = client.get("/api/campaigns/new").json()
    assert (state["is_begun"], state["n_done"], state["curves"]) == (False, 0, [])
    assert client.get("/campaigns/new").status_code == 200
    assert client.get("/api/campaigns/new/results").status_code == 404
    assert client.get("/api/campaigns/none").status_code == 404
    assert client.get("/campaigns/none").status_code == 404


def test_results_are_made_anew_only_when_the_journal_changed():
    made = []
    kept = Kept(lambda: made.append(1) or len(made))
    assert kept.get("a") == ("a", 1) == kept.get("a")
    assert kept.get("b") == ("a", 1), "not twice within a second"
    assert kept.get("b", is_exact=True) == ("b", 2) == kept.get("b")


def test_counts_come_first_where_the_fit_takes_long(client, space, harbour, monkeypatch):
    may_end = threading.Event()

    def slowly(reader):
        may_end.wait(60.0)
        return gather_figures(reader)

    monkeypatch.setattr("solidcopy.actions.watch_campaign.gather_figures", slowly)
    first = client.get("/api/campaigns/harbour/results").json()
    assert first["is_preliminary"] and first["stamp"] == "" and first["headline"] == WORKING
    may_end.set()
    fitted = results(client, "harbour")
    assert fitted["stamp"] == client.get("/api/campaigns/harbour").json()["stamp"]
    for early, late in zip(first["curves"], fitted["curves"], strict=True):
        assert early["points"] == late["points"]
        assert early["line"] is None and late["line"] is not None
    assert first["false_decodes"] == fitted["false_decodes"]
    assert first["penalties"] == [] and fitted["penalties"] != []


def test_a_curve_against_one_of_another_campaign(client, space, harbour):
    other = two_conditions(title="Elsewhere", axis={"values": [-23, -21, -19.5, -17]})
    write_campaign(space.folder / f"elsewhere{SUFFIX}", other, [-20, -18], n_trials=30, n_silent=0)
    asked = {"curve": "quiet/builtin", "other": "elsewhere", "other_curve": "quiet/builtin"}
    answered = client.get("/api/campaigns/harbour/against", params=asked)
    said = compare_across(
        Asked(space.campaign("harbour"), "quiet"), Asked(space.campaign("elsewhere"), "quiet")
    )
    assert answered.json()["sentences"][0] == said.as_dict()["sentence"]
    assert len(answered.json()["sentences"]) >= 4
    quicker = two_conditions(mode="ft4", axis={"values": [-19, -17]})
    write_campaign(space.folder / f"ft4{SUFFIX}", quicker, [-18, -17], n_trials=4, n_silent=0)
    refused = client.get("/api/campaigns/harbour/against", params={**asked, "other": "ft4"})
    assert refused.status_code == 400
    assert "must not be compared" in refused.json()["sentence"]


def test_verdicts_are_the_reports(client, space):
    plan = two_conditions(
        axis={"values": [-22, -20, -18]},
        stop={"until": "decided", "at_most": 60, "nothing_sent": 0},
    )
    folder = space.folder / f"decided{SUFFIX}"
    write_campaign(folder, plan, [-21, -17.4], n_trials=60, n_silent=0)
    served = results(client, "decided")["verdicts"]
    with JournalReader(folder) as reader:
        sheet = decisions_sheet(gather(reader))
    assert [tuple(row) for row in served["rows"]] == list(sheet.rows)
    assert "decided" in served["rows"][0][3]


def test_how_the_last_run_ended_is_told(client, space):
    plan = two_conditions(axis={"values": [-22, -20]}, stop={"trials_per_point": 20})
    folder = space.folder / f"half{SUFFIX}"
    write_campaign(folder, plan, [-21, -20], n_trials=10, n_silent=0)
    log = folder / RUN_LOG

    def told():
        return client.get("/api/campaigns/half").json()["last_words"]

    assert told() == ""
    log.write_text("40 of 480 (8 %)\nsolidcopy: pump.wav: is not there; name another recording\n")
    assert told() == "pump.wav: is not there; name another recording"
    log.write_text("stopped: 40 of 480 (8 %); the same command goes on\n")
    assert told() == "", "it was asked to"


def test_failed_trials_can_be_tried_again(space, monkeypatch):
    """The words of the command that is started; whether it then writes is for a real one."""
    started = []

    class Process:
        pid = 7

        def __init__(self, words, **_):
            started.append(words)

        def poll(self):
            return 0

    monkeypatch.setattr("solidcopy.actions.background_run.subprocess.Popen", Process)
    folder = space.folder / f"half{SUFFIX}"
    folder.mkdir()
    start_run(folder)
    start_run(folder, retry_failed=True)
    assert [words[3:] for words in started] == [
        ["run", str(folder)],
        ["run", str(folder), "--retry-failed"],
    ]
