"""Compare any two conditions, or any two receivers, of one campaign."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import PlanError
from solidcopy.reports.comparing import comparison_sentence
from solidcopy.reports.gather import gather, precision_of, reading_at
from solidcopy.reports.measured import Estimate, PenaltyFacts
from solidcopy.reports.penalties import Comparing, penalty_facts
from solidcopy.trials.expand import place_of
from solidcopy.trials.plan import Plan


@dataclass(frozen=True, slots=True)
class Compared:
    """One comparison in words and numbers, at the 50 % point."""

    sentence: str
    penalty: PenaltyFacts

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        shift = self.penalty.shift
        figures: dict[str, Any] = {"shift": None, "low": None, "high": None}
        if isinstance(shift, Estimate):
            interval = shift.interval
            figures = {"shift": shift.value, "low": interval.low, "high": interval.high}
            figures |= {"confidence": interval.confidence, "method": interval.method}
        else:
            figures["reason"] = shift.reason
        return {
            "sentence": self.sentence,
            "compares": self.penalty.compares,
            "name": self.penalty.name,
            "against": self.penalty.against,
            "within": self.penalty.within,
            "p": self.penalty.p,
            **figures,
        }


def compare(source: Path, name: str, against: str, *, within: str | None = None) -> Compared:
    """How far the curve of `name` lies from that of `against`, judged in pairs.

    Args:
        source: campaign folder or plan file.
        name, against: two conditions or two receivers, by name or (conditions) number from 1.
        within: the receiver (or condition) that both share; the first if left out.
    Raises: PlanError naming what the plan holds; JournalError if nothing was begun.
    """
    with JournalReader(existing_folder(source)) as reader:
        plan = reader.plan
        compares, this, first = _what(plan, name, against)
        conditions = [condition.name for condition in plan.conditions]
        receivers = [receiver.name for receiver in plan.receivers]
        is_condition = compares == "condition"
        names, others = (conditions, receivers) if is_condition else (receivers, conditions)
        other = "receiver" if is_condition else "condition"
        shared = 0 if within is None else place_of(within, others, what=other)
        place_first = (first, shared) if is_condition else (shared, first)
        place_this = (this, shared) if is_condition else (shared, this)
        facts = gather(reader)
        readings = (
            reading_at(reader, place_first, facts.axis),
            reading_at(reader, place_this, facts.axis),
        )
        found = penalty_facts(
            Comparing(compares, names[this], names[first], others[shared], readings),
            reader.paired(place_first, place_this),
            p=0.5,
            axis=facts.axis,
            precision=precision_of(reader, facts.axis),
        )
        return Compared(comparison_sentence(facts, found), found)


def _what(plan: Plan, name: str, against: str) -> tuple[Literal["condition", "receiver"], int, int]:
    """Whether two conditions or two receivers are named, and their places."""
    conditions = [condition.name for condition in plan.conditions]
    receivers = [receiver.name for receiver in plan.receivers]
    compares: Literal["condition", "receiver"] = "condition"
    names = conditions
    if name in receivers and against in receivers:
        compares, names = "receiver", receivers
    this, first = (place_of(text, names, what=compares) for text in (name, against))
    if this == first:
        raise PlanError(f'"{name}" is named twice; name two conditions or two receivers')
    return compares, this, first
