"""One thing that was found about a path, and what it means for measuring."""

from dataclasses import dataclass
from enum import StrEnum


class Weight(StrEnum):
    """What a finding means for measuring."""

    NOTE = "note"
    CARE = "care"
    SPOILT = "spoilt"


class Verdict(StrEnum):
    """What the path is good for."""

    FIT = "fit for measuring"
    WITH_CARE = "fit with care"
    NOT_FIT = "not fit for measuring"


@dataclass(frozen=True, slots=True)
class PathFinding:
    """One thing about a path."""

    kind: str
    weight: Weight
    sentence: str
    advice: str
    """What to change; empty for a note that needs nothing."""


def verdict_of(findings: list[PathFinding]) -> Verdict:
    """The worst weight decides."""
    weights = {finding.weight for finding in findings}
    if Weight.SPOILT in weights:
        return Verdict.NOT_FIT
    return Verdict.WITH_CARE if Weight.CARE in weights else Verdict.FIT
