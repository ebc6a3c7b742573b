"""Recordings that a plan names, and the same plan with other paths to them."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.trials.condition import Condition
from solidcopy.trials.plan import Plan, parse_plan


def recordings_in(conditions: Iterable[Condition]) -> Iterator[OwnRecording]:
    """Recordings of one's own, in the order in which conditions name them."""
    for condition in conditions:
        for impairment in condition.impairments:
            if isinstance(impairment, OwnRecording):
                yield impairment


def sound_files(plan: Plan) -> list[str]:
    """Every recording that a plan uses, once, in the plan's order."""
    return list(dict.fromkeys(recording.file for recording in recordings_in(plan.conditions)))


def with_files(plan: Plan, files: Mapping[str, str]) -> Plan:
    """The same plan with other paths to its recordings.

    Args:
        plan: as read.
        files: other path by path, for each of its recordings.
    """
    data: dict[str, Any] = plan.model_dump()
    for condition in data["conditions"]:
        for impairment in condition["impairments"]:
            if impairment["kind"] == "recording":
                impairment["file"] = files[impairment["file"]]
    return parse_plan(data)
