"""Plans in words: names, numbers and units; no folder of anybody's."""

from typing import Any

import pytest

from report_examples import two_conditions
from solidcopy.reports.axis import axis_facts, kind_words
from solidcopy.reports.describe import condition_facts, message_words, receiver_facts, stop_words
from solidcopy.trials.field_words import split_unit
from solidcopy.trials.plan import Plan

NOISE = {"kind": "gaussian-noise", "snr_db": -15.0}


def plan_of(*impairments: dict[str, Any], **changes: Any) -> Plan:
    sending = changes.pop("sending", {})
    one = {"name": "one", "sending": sending, "impairments": list(impairments)}
    return two_conditions(conditions=[one], **changes)


@pytest.mark.derived
@pytest.mark.parametrize(
    ("field", "words", "unit"),
    [
        ("offset_hz", "offset", "Hz"),
        ("rate_per_s", "rate", "per second"),
        ("drift_hz_per_s", "drift", "Hz/s"),
        ("jitter_ms", "jitter", "ms"),
        ("level_dbfs", "level", "dBFS"),
        ("snr_db", "snr", "dB"),
        ("clock_error_ppm", "clock error", "ppm"),
        ("speed_wpm", "speed", "words per minute"),
        ("placement", "placement", ""),
    ],
)
def test_units_come_from_the_ends_of_names(field: str, words: str, unit: str) -> None:
    assert split_unit(field) == (words, unit)


@pytest.mark.derived
def test_kinds_in_words() -> None:
    assert kind_words("gaussian-noise") == "Gaussian noise"
    assert kind_words("band-noise 2") == "band noise 2"


@pytest.mark.derived
@pytest.mark.parametrize(
    ("swept", "label", "sense"),
    [
        ({"interference_to_noise_db": "axis"}, "I/N in 2500 Hz of the carrier, dB", "interference"),
        ({"signal_to_interference_db": "axis"}, "S/I of the carrier, dB", "ratio"),
    ],
)
def test_axes_of_a_carrier(swept: dict[str, Any], label: str, sense: str) -> None:
    axis = axis_facts(plan_of(NOISE, {"kind": "carrier", "offset_hz": 18.0, **swept}))
    assert (axis.label, axis.sense, axis.step_unit) == (label, sense, "dB")


@pytest.mark.derived
def test_an_axis_of_frequency() -> None:
    carrier = {"kind": "carrier", "offset_hz": "axis", "signal_to_interference_db": 3.0}
    axis = axis_facts(plan_of(NOISE, carrier))
    assert axis.label == "carrier's offset from the lowest tone, Hz"
    assert axis.sense == "other"


@pytest.mark.derived
def test_the_noise_axis_is_the_snr() -> None:
    axis = axis_facts(two_conditions())
    assert axis.label == "SNR in 2500 Hz, dB"
    assert axis.values[0] == -24.0


@pytest.mark.derived
def test_every_number_is_told_with_its_unit() -> None:
    impulses = {
        "kind": "impulses",
        "rate_per_s": 1.5,
        "timing": "random",
        "pulse": {"kind": "ring", "ring_hz": 1200, "decay_ms": 4},
        "interference_to_noise_db": 6,
    }
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    plan = plan_of(noise, impulses, sending={"audio_hz": 1500})
    facts = condition_facts(plan, plan.conditions[0])
    said = dict(facts.parts[2].numbers)
    assert said["rate"].startswith("1.5 per second")
    assert said["pulse"] == "ring"
    assert said["pulse: ring"].startswith("1200 Hz")
    assert said["pulse: decay"].startswith("4 ms")
    assert said["I/N in 2500 Hz (this over the noise)"] == "6 dB"
    assert dict(facts.parts[1].numbers) == {"SNR in 2500 Hz": "swept: the axis of this campaign"}
    assert dict(facts.parts[0].numbers)["frequency of the lowest tone"] == "1500 Hz"
    assert not facts.has_fixed_ratio


@pytest.mark.derived
def test_a_spread_is_told_with_both_ends() -> None:
    plan = two_conditions()
    said = dict(condition_facts(plan, plan.conditions[0]).parts[0].numbers)
    assert said["start after the nominal start"] == "drawn evenly from −0.5 to 0.5 s in each trial"


@pytest.mark.derived
def test_fixed_messages_carry_their_caution() -> None:
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    plan = plan_of(noise, sending={"message": "CQ Q1ABC JO22"})
    assert '"CQ Q1ABC JO22"' in message_words(plan)
    assert "remembers" in message_words(plan)
    assert message_words(two_conditions()) == "A new random valid message in every trial."


@pytest.mark.derived
def test_stop_rules_in_words() -> None:
    assert stop_words(two_conditions()) == (
        "60 trials at each point; 20 trials of each condition in which nothing is sent"
    )
    precise = two_conditions(stop={"threshold_half_width_db": 0.2, "at_most": 500})
    assert stop_words(precise).startswith("until the 50 % threshold is known to ±0.2 dB, at most 5")


@pytest.mark.derived
def test_a_receiver_is_told_with_its_recipe() -> None:
    facts = receiver_facts(two_conditions().receivers[0])
    said = dict(facts.parts[0].numbers)
    assert facts.name == "builtin"
    assert said["low"].startswith("200 Hz")
    assert "recipe number" in said
    assert len(facts.identity) == 64
