"""A whole small map campaign by the commands that a user types."""

import csv
import json
from pathlib import Path

import pytest
import tomli_w
from typer.testing import CliRunner

from example_plans import changed
from solidcopy.cli.main import app

RUNNER = CliRunner()

NOISE = {"kind": "gaussian-noise", "snr_db": 0}
KEYED = {
    "kind": "carrier",
    "offset_hz": "map",
    "keying": {"text": "CQ TEST DE Q1ABC", "speed_wpm": 20},
    "signal_to_interference_db": "axis",
}


def typed(*arguments: str) -> str:
    result = RUNNER.invoke(app, list(arguments))
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    plan = changed(
        title="A carrier, inside and far away",
        axis={"values": [-30, -20, 0, 10]},
        map={"values": [25, 300]},
        stop={"trials_per_point": 4, "nothing_sent": 2},
        conditions=[{"name": "keyed", "impairments": [NOISE, KEYED]}],
    )
    path = tmp_path_factory.mktemp("bench") / "map.toml"
    path.write_text(tomli_w.dumps(plan))
    return path


def test_a_map_from_plan_to_report(plan_file: Path) -> None:
    """Inside the signal a keyed carrier 20 dB stronger takes all; 300 Hz away it takes nothing.

    Common practice, no source: what lies in another receiver channel is filtered out.
    """
    checked = typed("plan", "check", str(plan_file))
    assert "conditions 1 to 2: keyed, on the map of 25 to 300 (2 values)" in checked
    printed = typed("run", str(plan_file), "--workers", "1")
    assert "“keyed” harms most where the carrier's offset from the lowest tone is 25 Hz" in (
        " ".join(printed.split())
    )
    report = Path(printed.splitlines()[-1].removeprefix("report: "))
    with (report.parent / "map-shares.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    shares = {(float(row["map_value"]), float(list(row.values())[4])): row for row in rows}
    assert shares[25.0, -20.0]["n_decoded"] == "0"
    assert shares[25.0, 10.0]["n_decoded"] == "4"
    assert shares[300.0, -20.0]["n_decoded"] == "4"


def test_a_trial_of_a_map_is_made_again_by_its_name(plan_file: Path) -> None:
    typed("run", str(plan_file), "--workers", "1")  # goes on where it was: nothing is left to do
    out = plan_file.parent
    said = typed("remake", str(plan_file), "keyed, offset 25 Hz@-20#1", "--out", str(out))
    assert "digest proved" in said
    sidecar = json.loads(Path(said.splitlines()[1]).read_text(encoding="utf-8"))
    assert sidecar["condition"]["mapped"]["value"] == 25.0


def test_values_added_to_a_map_keep_what_was_measured(plan_file: Path) -> None:
    typed("run", str(plan_file), "--workers", "1")
    wider = plan_file.read_text().replace("25,", "25,\n    -300,")
    assert "-300" in wider
    plan_file.write_text(wider)
    said = typed("run", str(plan_file), "--workers", "1", "--json").splitlines()
    first, last = (json.loads(said[place]) for place in (0, -2))
    assert first["n_done"] >= 2 * (4 * 4 + 2)
    assert last["n_done"] == 3 * (4 * 4 + 2)
