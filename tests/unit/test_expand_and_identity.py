"""Trials of a plan, their names, and identity by content."""

import copy

import pytest

from example_plans import MINIMAL, changed, condition
from solidcopy.errors import PlanError
from solidcopy.trials.expand import (
    TrialKey,
    nothing_sent_value,
    parse_trial_key,
    trial_of,
    trials_in_block,
)
from solidcopy.trials.identity import canonical_json, curve_identity, receiver_identity
from solidcopy.trials.plan import parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

PLAN = parse_plan(changed(conditions=[condition("quiet"), condition("fence, at night")]))


def test_a_block_holds_every_point_of_every_condition() -> None:
    keys = list(trials_in_block(PLAN, 4, 3))
    assert len(keys) == 2 * 7 * 3
    assert len(set(keys)) == len(keys)
    assert {key.trial_index for key in keys} == {4, 5, 6}


@pytest.mark.parametrize(
    "key",
    [
        TrialKey(0, SENT, -21.0, 17),
        TrialKey(1, SENT, -18.0, 0),
        TrialKey(1, NOTHING_SENT, -21.0, 5),
    ],
)
def test_the_name_of_a_trial_leads_back_to_it(key: TrialKey) -> None:
    assert parse_trial_key(str(key), PLAN) == key


def test_a_condition_may_be_called_by_its_name() -> None:
    assert parse_trial_key("fence, at night@-21#2", PLAN) == TrialKey(1, SENT, -21.0, 2)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("700", "names no trial"),
        ("1@-21#x", "names no trial"),
        ("3@-21#1", '"3" is no condition of this plan; it has 1 "quiet", 2 "fence, at night"'),
        ("1@-21.5#1", '"-21.5" is no value on the axis; it has -24, -23'),
        ("1@loud#1", '"loud" is no value on the axis'),
    ],
)
def test_a_wrong_name_is_explained(text: str, sentence: str) -> None:
    with pytest.raises(PlanError) as caught:
        parse_trial_key(text, PLAN)
    assert sentence in str(caught.value)


def test_nothing_sent_trials_stand_at_a_point_of_the_axis() -> None:
    assert nothing_sent_value(PLAN) in PLAN.axis.points()


def test_a_trial_has_its_number_on_the_axis_and_no_chance_of_its_own() -> None:
    trial = trial_of(PLAN, TrialKey(1, SENT, -20.0, 3))
    assert trial.condition.impairments[0].snr_db == -20.0
    assert trial.chance.root_seed == PLAN.root_seed
    assert trial.is_sent
    other_condition = trial_of(PLAN, TrialKey(0, SENT, -20.0, 3))
    assert other_condition.chance == trial.chance  # conditions are compared on the same chance


def test_names_titles_and_stop_rules_are_not_part_of_identity() -> None:
    renamed = parse_plan(
        changed(
            title="other", stop={"trials_per_point": 99}, conditions=[condition("another name")]
        )
    )
    plain = parse_plan(MINIMAL)
    assert curve_identity(renamed, renamed.conditions[0]) == curve_identity(
        plain, plain.conditions[0]
    )


@pytest.mark.parametrize(
    "change",
    [
        {"root_seed": 2},
        {"audio": {"sample_rate_hz": 48000}},
        {"audio": {"level_dbfs": -25}},
        {"conditions": [condition(sending={"message": "CQ Q1ABC FN42"})]},
    ],
)
def test_what_alters_a_recording_alters_identity(change: dict[str, object]) -> None:
    plain, other = parse_plan(MINIMAL), parse_plan(changed(**copy.deepcopy(change)))
    assert curve_identity(plain, plain.conditions[0]) != curve_identity(other, other.conditions[0])


def test_receiver_identity_is_its_settings() -> None:
    one, same, other = parse_plan(
        changed(
            receivers=[
                {"kind": "builtin"},
                {"kind": "builtin", "name": "twin"},
                {"kind": "builtin", "name": "quick", "effort": "belief-propagation"},
            ]
        )
    ).receivers
    assert receiver_identity(one) == receiver_identity(same)
    assert receiver_identity(one) != receiver_identity(other)


def test_canonical_json_has_one_form() -> None:
    assert canonical_json({"b": -0.0, "a": (1, 2.5)}) == '{"a":[1,2.5],"b":0.0}'
    with pytest.raises(ValueError):
        canonical_json({"a": float("nan")})
