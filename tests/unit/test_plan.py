"""Plans: what is accepted, and how a fault is named."""

from pathlib import Path
from typing import Any

import pytest
import tomli_w

from example_plans import MINIMAL, changed, condition
from solidcopy.errors import PlanError
from solidcopy.trials.faults import field_words, place_of
from solidcopy.trials.plan import Axis, Plan, parse_plan, read_plan


def test_minimal_plan_gets_documented_defaults() -> None:
    plan = parse_plan(MINIMAL)
    assert plan.axis.points() == (-24.0, -23.0, -22.0, -21.0, -20.0, -19.0, -18.0)
    assert plan.audio.sample_rate_hz == 12_000
    assert plan.conditions[0].sending.message == "random"
    assert plan.receivers[0].kind == "builtin"
    assert plan.swept_label() == ("gaussian-noise", "snr_db")


def test_json_round_trip() -> None:
    plan = parse_plan(MINIMAL)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"mode": None}, "mode"),
        ({"root_seed": -1}, "root_seed: Input should be greater than or equal to 0 (given: -1)"),
        ({"axis": {"start": -18, "stop": -24, "step": 1}}, "axis: `start` (-18) must not exceed"),
        ({"axis": {"values": [1, 1]}}, "axis: `values` holds the same number twice"),
        ({"axis": {"start": 0, "stop": 1, "step": 1e-6}}, "axis: more than 500 values"),
        ({"axis": {"start": 0}}, "axis: give `values`, or all three"),
        (
            {"stop": {}},
            "stop: give one of `trials_per_point`, `threshold_half_width_db` and `until`",
        ),
        ({"conditions": []}, "conditions: Tuple should have at least 1 item"),
        ({"conditions": [condition(), condition()]}, 'conditions: the name "quiet" is used twice'),
        ({"colour": "red"}, "colour: Extra inputs are not permitted (given: 'red')"),
        (
            {"conditions": [condition(sending={"audio_hz": {"low": 900, "high": 100}})]},
            "conditions[1].sending.audio_hz: low (900) must not exceed high (100)",
        ),
        (
            {"conditions": [condition(sending={"start_offset_s": "axis"})]},
            'exactly one field must say "axis", not 2',
        ),
        (
            {"receivers": [{"kind": "builtin"}, {"kind": "builtin"}]},
            'receivers: the name "builtin" is used twice',
        ),
    ],
)
def test_a_fault_is_named_by_its_field(change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(PlanError) as caught:
        parse_plan(changed(**change))
    assert sentence in str(caught.value)


def test_conditions_must_sweep_the_same_field() -> None:
    other = {
        "name": "late",
        "sending": {"start_offset_s": "axis"},
        "impairments": [{"kind": "gaussian-noise", "snr_db": -15}],
    }
    with pytest.raises(PlanError, match="must sweep the same field"):
        parse_plan(changed(conditions=[condition(), other]))


def test_the_same_level_may_be_swept_in_different_impairments() -> None:
    carrier, hum = (
        {
            "name": kind,
            "impairments": [
                {"kind": kind, "signal_to_interference_db": "axis", "offset_hz": 20, **extra}
            ],
        }
        for kind, extra in (("carrier", {}), ("band-noise", {"width_hz": 100}))
    )
    plan = parse_plan(changed(conditions=[carrier, hum]))
    assert plan.swept_label() == ("disturbance", "signal_to_interference_db")


@pytest.mark.parametrize(
    ("location", "field"),
    [
        (
            ("conditions", 1, "impairments", 0, "gaussian-noise", "snr_db", "float"),
            "conditions[2].impairments[1].snr_db",
        ),
        (("receivers", 0, "builtin", "low_hz"), "receivers[1].low_hz"),
        (
            ("conditions", 0, "impairments", 1, "impulses", "pulse", "ring", "ring_hz"),
            "conditions[1].impairments[2].pulse.ring_hz",
        ),
        (
            ("conditions", 0, "impairments", 0, "impulse-sources", "sources", 1, "ignition", "x"),
            "conditions[1].impairments[1].sources[2].x",
        ),
        ((), "the plan"),
    ],
)
def test_a_field_inside_an_impairment_is_named_without_its_kind(location, field) -> None:
    assert field_words(place_of(location)) == field


def test_a_plan_error_knows_its_fields() -> None:
    with pytest.raises(PlanError) as raised:
        parse_plan(changed(root_seed=-1, stop={"trials_per_point": 0}))
    places = {fault.place for fault in raised.value.faults}
    assert places == {("root_seed",), ("stop", "trials_per_point")}


NOISE_FREE = [{"kind": "carrier", "offset_hz": 0, "interference_to_noise_db": "axis"}]
UNANCHORED = [{"kind": "recording", "file": "x.wav", "as_recorded": True}]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"impairments": NOISE_FREE}, "interference_to_noise_db needs a noise to refer to"),
        (
            {"impairments": UNANCHORED, "sending": {"start_offset_s": "axis"}},
            "needs sending.signal_dbfs",
        ),
    ],
)
def test_a_level_without_reference_is_refused(fields: dict[str, Any], sentence: str) -> None:
    with pytest.raises(PlanError, match=sentence):
        parse_plan(changed(conditions=[condition(**fields)]))


def test_an_impossible_axis_value_is_named() -> None:
    rate = {"kind": "impulses", "rate_per_s": "axis", "timing": "random"}
    plan = parse_plan(
        changed(
            axis={"values": [1, 9000]},
            conditions=[condition(impairments=[{**rate, "signal_to_interference_db": 0}])],
        )
    )
    with pytest.raises(PlanError, match=r"at 9000 on the axis: rate_per_s is 9000"):
        plan.conditions[0].at(9000.0)


def test_steps_do_not_drift() -> None:
    points = Axis(start=-24.0, stop=-21.0, step=0.1).points()
    assert len(points) == 31
    assert points[-1] == -21.0
    assert points[7] == -23.3


def test_files_of_recordings_count_from_the_folder_of_the_plan(tmp_path: Path) -> None:
    data = changed(
        conditions=[
            {
                "name": "own noise",
                "impairments": [{"kind": "recording", "file": "noise.wav", "snr_db": "axis"}],
            }
        ]
    )
    plan_file = tmp_path / "plan.toml"
    plan_file.write_text(tomli_w.dumps(data))
    impairment = read_plan(plan_file).conditions[0].impairments[0]
    assert impairment.file == str((tmp_path / "noise.wav").resolve())


def test_a_plan_file_that_cannot_be_read_says_why(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="cannot be read"):
        read_plan(tmp_path / "none.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("mode = \n")
    with pytest.raises(PlanError, match="is not valid TOML"):
        read_plan(broken)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'title = "\xe4"')
    with pytest.raises(PlanError, match="is not UTF-8"):
        read_plan(latin)
