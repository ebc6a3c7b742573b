"""A plan's [map]: one condition for each value, the same when read again, and clear refusals."""

import json
from typing import Any

import pytest

from example_plans import MINIMAL, changed, condition
from solidcopy.errors import PlanError
from solidcopy.trials.expand import parse_trial_key
from solidcopy.trials.identity import curve_identity
from solidcopy.trials.plan import Plan, parse_plan

CARRIER = {"kind": "carrier", "offset_hz": "map", "signal_to_interference_db": 3}


def beside(name: str = "carrier", **changes: Any) -> dict[str, Any]:
    made = condition(name)
    made["impairments"] = [*made["impairments"], {**CARRIER, **changes}]
    return made


def mapped_plan(**changes: Any) -> Plan:
    fields: dict[str, Any] = {
        "map": {"values": [25, -12.5, 0]},
        "conditions": [condition("quiet"), beside()],
    }
    return parse_plan(changed(**{**fields, **changes}))


@pytest.mark.derived
def test_each_value_gets_a_condition_of_its_own() -> None:
    plan = mapped_plan()
    assert [c.name for c in plan.conditions] == [
        "quiet",
        "carrier, offset -12.5 Hz",
        "carrier, offset 0 Hz",
        "carrier, offset 25 Hz",
    ]
    first = plan.conditions[1]
    assert first.impairments[1].offset_hz == -12.5  # type: ignore[union-attr]
    assert first.mapped is not None
    assert (first.mapped.condition, first.mapped.value) == ("carrier", -12.5)
    assert first.label_of(first.mapped.path) == ("carrier", "offset_hz")
    assert first.as_written().impairments[1].offset_hz == "map"  # type: ignore[union-attr]
    assert first.at(-21.0).mapped == first.mapped
    assert plan.conditions[0].mapped is None
    assert parse_trial_key("carrier, offset -12.5 Hz@-21#3", plan).condition == 1


@pytest.mark.derived
def test_a_map_may_have_even_steps() -> None:
    plan = mapped_plan(map={"start": -200, "stop": 250, "step": 25})
    assert len(plan.conditions) == 1 + 19  # 450 / 25 steps and both ends


def test_the_expanded_plan_is_read_as_itself() -> None:
    plan = mapped_plan()
    stored = plan.model_dump_json()
    assert Plan.model_validate_json(stored) == plan
    assert parse_plan(json.loads(stored)) == plan
    assert Plan.model_validate_json(Plan.model_validate_json(stored).model_dump_json()) == plan


def test_a_mapped_condition_is_the_one_that_says_the_number() -> None:
    """So a journal keeps their outcomes in the same rows."""
    plan = mapped_plan()
    written = parse_plan(changed(conditions=[beside("by hand", offset_hz=25)]))
    identities = [curve_identity(plan, c) for c in plan.conditions]
    assert identities[3] == curve_identity(written, written.conditions[0])
    assert len(set(identities)) == 4


@pytest.mark.frozen
def test_plans_without_a_map_keep_their_identity() -> None:
    """Frozen before maps came: journals made then must stay good."""
    plan = parse_plan(MINIMAL)
    assert curve_identity(plan, plan.conditions[0]).startswith("258905b2d3e6b2d7")


@pytest.mark.derived
def test_the_sending_and_a_level_may_be_mapped() -> None:
    plan = mapped_plan(
        map={"values": [500, 1500]},
        conditions=[condition("signal", sending={"audio_hz": "map"})],
    )
    assert [c.sending.audio_hz for c in plan.conditions] == [500.0, 1500.0]
    assert plan.conditions[0].name == "signal, audio 500 Hz"
    shifted = mapped_plan(
        map={"values": [-1, 1]},
        conditions=[condition("late", sending={"start_offset_s": "map"})],
    )
    assert [c.sending.start_offset_s for c in shifted.conditions] == [-1.0, 1.0]
    levels = mapped_plan(
        map={"values": [-3]},
        conditions=[beside(offset_hz=0, signal_to_interference_db="map")],
    )
    assert levels.conditions[0].name == "carrier, S/I -3 dB"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"map": None}, r'"carrier" says "map", but the plan has no \[map\]'),
        ({"conditions": [condition("quiet")]}, r'has a \[map\], but no condition says "map"'),
        (
            {"conditions": [beside(signal_to_interference_db="map")]},
            'one field may say "map", not 2',
        ),
        (
            {"conditions": [condition("carrier, offset 0 Hz"), beside()]},
            'the name "carrier, offset 0 Hz" is used twice',
        ),
        ({"conditions": [beside("c" * 70)]}, "may have 80 letters; shorten it by 7"),
        (
            {
                "conditions": [
                    beside(offset_hz=1)
                    | {
                        "mapped": {
                            "condition": "c",
                            "impairment": 2,
                            "field": "offset_hz",
                            "value": 2,
                        }
                    }
                ]
            },
            "leave `mapped` out",
        ),
        ({"map": {"values": [1, 1]}}, "map: `values` holds the same number twice"),
        ({"map": {"start": 0, "stop": 200, "step": 1}}, "map: more than 200 values"),
        ({"map": {"values": [0], "unit": "Hz"}}, "map.unit"),
        (
            {"conditions": [condition("late", sending={"start_offset_s": "map"})]},
            '"late" at -12.5 on the map: Input should be greater than or equal to -2.5$',
        ),
        (
            {"conditions": [beside(signal_to_interference_db="axis")]},
            'exactly one field must say "axis"',
        ),
    ],
)
def test_refusals_say_what_to_do(changes: dict[str, Any], sentence: str) -> None:
    fields: dict[str, Any] = {
        "map": {"values": [25, -12.5, 0]},
        "conditions": [condition("quiet"), beside()],
        **changes,
    }
    if fields["map"] is None:
        del fields["map"]
    with pytest.raises(PlanError, match=sentence):
        parse_plan(changed(**fields))
