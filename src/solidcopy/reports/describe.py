"""Conditions and receivers in words: every number of a plan with its name and unit."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from solidcopy.impairments.level import AXIS, MAP
from solidcopy.reports.axis import kind_words
from solidcopy.reports.facts import ConditionFacts, Described, ReceiverFacts
from solidcopy.reports.fading import preset_numbers
from solidcopy.reports.wording import capital, plain
from solidcopy.trials.condition import Condition, Sending
from solidcopy.trials.field_words import split_unit
from solidcopy.trials.identity import curve_identity, receiver_identity
from solidcopy.trials.plan import Plan

FIELD_WORDS = {
    "snr_db": ("SNR in 2500 Hz", "dB"),
    "signal_to_interference_db": ("S/I (wanted over this, mean power in the slot)", "dB"),
    "interference_to_noise_db": ("I/N in 2500 Hz (this over the noise)", "dB"),
    "audio_hz": ("audio frequency", "Hz"),
    "offset_hz": ("offset from the lowest tone", "Hz"),
    "start_offset_s": ("start after the nominal start", "s"),
    "speed_bd": ("speed", "Bd"),
    "n_tones": ("number of tones", ""),
    "file": ("file", ""),
    "signal_dbfs": ("level while transmitting", "dBFS"),
    "from_hz": ("start of a sweep", "Hz"),
    "to_hz": ("end of a sweep", "Hz"),
    "sweep_hz_per_s": ("pace of the sweep", "Hz/s"),
    "mains_hz": ("mains frequency", "Hz"),
    "fall_db_per_octave": ("fall of the harmonics", "dB per octave"),
    "modulating_hz": ("modulating frequency", "Hz"),
    "n_lines": ("number of lines", ""),
    "slope_db_per_line": ("change of level from line to line", "dB"),
}
"""Fields whose name alone would not tell a reader enough."""

MAX_EXPLANATION = 70
"""Longer descriptions explain choices, not the value chosen."""


def condition_facts(plan: Plan, condition: Condition) -> ConditionFacts:
    """One condition of a plan, every number in words."""
    impairments = condition.impairments
    return ConditionFacts(
        name=condition.name,
        parts=(
            Described("Sending", tuple(_sending(condition.sending))),
            *(
                Described(
                    capital(kind_words(impairment.kind)),
                    (*_fields(impairment, ("kind",)), *preset_numbers(impairment)),
                )
                for impairment in impairments
            ),
        ),
        identity=curve_identity(plan, condition),
        has_fixed_ratio=any(
            isinstance(getattr(impairment, "signal_to_interference_db", None), float)
            for impairment in impairments
        ),
    )


def receiver_facts(receiver: Any) -> ReceiverFacts:
    """One receiver of a plan, every setting in words."""
    return ReceiverFacts(
        name=receiver.name,
        parts=(
            Described(
                capital(kind_words(receiver.kind)) + " receiver",
                (*_fields(receiver, ("kind", "name")), ("recipe number", str(receiver.recipe))),
            ),
        ),
        identity=receiver_identity(receiver),
    )


def message_words(plan: Plan) -> str:
    """Whether messages were random or fixed, in one sentence."""
    texts = {condition.sending.message for condition in plan.conditions}
    if texts == {"random"}:
        return "A new random valid message in every trial."
    fixed = sorted(texts - {"random"})
    names = ", ".join(f'"{text}"' for text in fixed)
    start = "The same message in every trial" if "random" not in texts else "Partly fixed messages"
    return (
        f"{start}: {names}. A receiver that remembers messages could do better here than with new "
        "ones."
    )


def stop_words(plan: Plan) -> str:
    """The stop rule in words."""
    stop = plan.stop
    if stop.trials_per_point is not None:
        rule = f"{stop.trials_per_point} trials at each point"
    else:
        half_width = plain(stop.threshold_half_width_db or 0.0)
        until = f"the {100 * stop.p:g} % threshold is known to ±{half_width} dB"
        if stop.until is not None:
            until = f"it is decided who decodes more (risk {100 * stop.risk:g} %, over all looks)"
        where = "at a point" if plan.axis.placement == "even" else "of a curve, placed adaptively"
        rule = f"until {until}, at most {stop.at_most} trials {where}"
    return f"{rule}; {stop.nothing_sent} trials of each condition in which nothing is sent"


def _sending(sending: Sending) -> Iterator[tuple[str, str]]:
    if sending.message == "random":
        yield "message", "a new random valid message in each trial"
    else:
        yield "message", f'"{sending.message}" in each trial'
    for words, value in _fields(sending, ("message",)):
        yield words.replace("audio frequency", "frequency of the lowest tone"), value


def _fields(model: BaseModel, left_out: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Name in words and value with unit of every field that is set."""
    for field, value in model:
        if field in left_out or value in (None, {}) or (field, value) == ("as_recorded", False):
            continue
        words, unit = FIELD_WORDS.get(field) or split_unit(field)
        if isinstance(value, BaseModel) and set(type(value).model_fields) != {"low", "high"}:
            if hasattr(value, "kind"):
                yield words, kind_words(value.kind)
            for inner_words, inner_value in _fields(value, ("kind",)):
                yield f"{words}: {inner_words}", inner_value
            continue
        if isinstance(value, tuple) and any(isinstance(item, BaseModel) for item in value):
            for number, item in enumerate(value, 1):
                if hasattr(item, "kind"):
                    yield f"{words} {number}", kind_words(item.kind)
                for inner_words, inner_value in _fields(item, ("kind",)):
                    yield f"{words} {number}: {inner_words}", inner_value
            continue
        yield words, _shown(field, value, unit) + _explained(model, field)


def _shown(field: str, value: Any, unit: str) -> str:
    """A value in words. A page is handed on: the folders of the person who made it are nobody's
    business."""
    if field in ("file", "program_file"):
        return Path(value).name
    if field == "command":
        return " ".join(map(_without_folder, value))
    if isinstance(value, dict):
        return ", ".join(f"{name}={_without_folder(item)}" for name, item in value.items())
    return _value(value, unit)


def _without_folder(text: str) -> str:
    return Path(text).name if Path(text).is_absolute() else text


def _explained(model: BaseModel, field: str) -> str:
    """The plan's own description of a field in brackets, where its name says too little."""
    said = type(model).model_fields[field].description
    is_needed = said is not None and field not in FIELD_WORDS and len(said) <= MAX_EXPLANATION
    return f" ({said})" if is_needed else ""


def _value(value: Any, unit: str) -> str:
    tail = f" {unit}" if unit else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return plain(value) + tail
    if isinstance(value, BaseModel):
        low, high = (getattr(value, end) for end in ("low", "high"))
        return f"drawn evenly from {plain(low)} to {plain(high)}{tail} in each trial"
    if isinstance(value, list | tuple):
        return ", ".join(_value(item, "") for item in value) + tail
    if value == MAP:
        return "mapped: a curve at each of its values"
    return "swept: the axis of this campaign" if value == AXIS else str(value)
