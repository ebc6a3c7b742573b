"""Identity by content: SHA-256 over everything that can alter a result, and nothing else."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from solidcopy.modes.registry import mode_named
from solidcopy.receivers.catalogue import AnyReceiver
from solidcopy.trials.condition import Condition
from solidcopy.trials.plan import Plan

MAKER_RECIPE = 1
"""Raised whenever the same trial gives other samples for a reason that lies in no impairment."""


def _without_negative_zero(value: Any) -> Any:
    if isinstance(value, float):
        return value + 0.0
    if isinstance(value, Mapping):
        return {key: _without_negative_zero(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_without_negative_zero(item) for item in value]
    return value


def canonical_json(value: Any) -> str:
    """Sorted keys, no spaces, no NaN, −0.0 as 0.0."""
    return json.dumps(
        _without_negative_zero(value), sort_keys=True, separators=(",", ":"), allow_nan=False
    )


def identity_of(value: Any) -> str:
    """SHA-256 of the canonical JSON, hexadecimal."""
    return hashlib.sha256(canonical_json(value).encode()).hexdigest()


def curve_contents(plan: Plan, condition: Condition) -> dict[str, Any]:
    """All that can alter a recording along one curve: mode, maker, seed, audio and condition (not
    its name)."""
    return {
        "mode": plan.mode,
        "mode_recipe": mode_named(plan.mode).facts.recipe,
        "maker_recipe": MAKER_RECIPE,
        "root_seed": plan.root_seed,
        # What is left out keeps its old identity: journals made before a field came stay good.
        "audio": plan.audio.model_dump(mode="json", exclude_none=True),
        "condition": condition.identity(),
    }


def curve_identity(plan: Plan, condition: Condition) -> str:
    """Of all recordings along one curve."""
    return identity_of(curve_contents(plan, condition))


def receiver_contents(receiver: AnyReceiver) -> dict[str, Any]:
    """All that can alter an answer of a receiver (not its name, nor how many copies may run at
    once).

    A field that came later counts only where it is not at its default, so that older journals stay
    valid.
    """
    assert isinstance(receiver, BaseModel)
    settings = receiver.model_dump(mode="json", exclude={"name", "at_most_at_once"})
    for field in receiver.added_later:
        if settings[field] == type(receiver).model_fields[field].default:
            del settings[field]
    return {**settings, "recipe": receiver.recipe}


def receiver_identity(receiver: AnyReceiver) -> str:
    """Of a receiver with its settings."""
    return identity_of(receiver_contents(receiver))
