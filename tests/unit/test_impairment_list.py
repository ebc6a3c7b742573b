"""The list of impairments holds every kind, and every example is a plan's."""

import json
import tomllib

import pytest
from pydantic import TypeAdapter
from typer.testing import CliRunner

from solidcopy.actions.list_impairments import list_impairments
from solidcopy.cli import gallery
from solidcopy.cli.main import app
from solidcopy.errors import PlanError
from solidcopy.impairments.cards import CARDS
from solidcopy.impairments.catalogue import AnyImpairment
from solidcopy.trials.plan import parse_plan

KINDS = [listed.kind for listed in list_impairments()]
ADAPTER = TypeAdapter(AnyImpairment)


def test_every_kind_is_listed_once_and_has_a_card():
    schema = ADAPTER.json_schema()
    assert sorted(KINDS) == sorted(schema["discriminator"]["mapping"])
    assert set(CARDS) == set(KINDS)


@pytest.mark.parametrize("listed", list_impairments(), ids=KINDS)
def test_a_listed_impairment_says_all_that_a_user_needs(listed):
    assert listed.description.endswith(".") and len(listed.source) > 5
    assert all(parameter.meaning for parameter in listed.parameters), listed.parameters
    plan = tomllib.loads('[[conditions]]\nname = "c"\n' + "\n".join(listed.example_lines()))
    (impairment,) = plan["conditions"][0]["impairments"]
    assert impairment == listed.example
    assert ADAPTER.validate_python(impairment).kind == listed.kind


def test_command_lists_explains_and_refuses():
    runner = CliRunner()
    everything = runner.invoke(app, ["impairments"])
    assert everything.exit_code == 0
    assert all(kind in everything.output for kind in KINDS)
    assert max(map(len, everything.output.splitlines())) <= 80
    one = runner.invoke(app, ["impairments", "gain-control"]).output
    assert "attack_ms" in one and "source:" in one and "[[conditions.impairments]]" in one
    as_json = json.loads(runner.invoke(app, ["impairments", "notch", "--json"]).output)
    assert as_json[0]["parameters"][0]["name"] == "on"
    unknown = runner.invoke(app, ["impairments", "moonshine"])
    assert isinstance(unknown.exception, PlanError) and "gain-control" in str(unknown.exception)


def test_gallery_draws_a_picture(tmp_path):
    """Any one: all are drawn by `make gallery`."""
    (listed,) = [item for item in list_impairments() if item.kind == "wideband-blanker"]
    name = gallery.picture_of(listed, tmp_path)
    assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")
    page = gallery.gallery_page({listed.kind: name})
    assert "](wideband-blanker.png)" in page and all(f"### {kind}" in page for kind in KINDS)


def test_all_kinds_at_once_make_a_plan():
    """Every example in a condition of its own, as a starting point for a user's plan."""
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    plan = parse_plan(
        {
            "mode": "ft8",
            "root_seed": 1,
            "axis": {"values": [-20.0]},
            "stop": {"trials_per_point": 1},
            "audio": {"internal_rate_hz": 48_000},
            "conditions": [
                {"name": listed.kind, "impairments": [noise, listed.example]}
                for listed in list_impairments()
                if listed.kind != "recording"
            ],
        }
    )
    assert len(plan.conditions) == len(KINDS) - 1
