"""Compare a curve of one campaign with a curve of any other."""

from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import PlanError
from solidcopy.reports.across import AcrossFacts, Overruled, across_facts
from solidcopy.reports.across_words import across_headline, across_text
from solidcopy.reports.likeness import OneCurve, unlike
from solidcopy.reports.tables import plain_data
from solidcopy.trials.expand import place_of


@dataclass(frozen=True, slots=True)
class Across:
    """A comparison of two campaigns in words and numbers."""

    facts: AcrossFacts

    @property
    def text(self) -> str:
        """For a person: a few sentences."""
        return across_text(self.facts)

    def as_dict(self) -> dict[str, Any]:
        """For a program: the facts, with the headline before them."""
        return {"sentence": across_headline(self.facts), **plain_data(self.facts)}


@dataclass(frozen=True, slots=True)
class Asked:
    """One side of a comparison as it was asked for."""

    source: Path
    """Campaign folder or plan file."""
    curve: str | None
    """"CONDITION/RECEIVER", "CONDITION" or "/RECEIVER"; None where there is only one curve."""


def compare_across(a: Asked, b: Asked, *, anyway: str | None = None) -> Across:
    """How far curve A lies from curve B, each of any campaign.

    Args:
        anyway: why to compare although a receiver's recipe number differs. Nothing else is let
            through: what was heard would not mean the same.
    Raises: PlanError with all reasons if the two are unlike, or if a curve is not named clearly;
        JournalError if a campaign was never begun.
    """
    if anyway is not None and not anyway.strip():
        raise PlanError("--anyway needs a reason in words: it is stated with the result")
    folders = existing_folder(a.source), existing_folder(b.source)
    with ExitStack() as stack:
        one, other = (_opened(stack, label, asked) for label, asked in (("A", a), ("B", b)))
        against = unlike(one, other)
        if any(not reason.is_receivers_recipe or anyway is None for reason in against):
            reasons = "; ".join(reason.reason for reason in against)
            offer = ""
            if all(reason.is_receivers_recipe for reason in against):
                offer = " (to ask what a change of the receiver did, add --anyway REASON)"
            raise PlanError(f"these two must not be compared: {reasons}{offer}")
        overruled = None
        if against and anyway is not None:
            overruled = Overruled(tuple(reason.reason for reason in against), anyway)
        names = folders[0].resolve().name, folders[1].resolve().name
        return Across(across_facts(one, other, folders=names, overruled=overruled))


def _opened(stack: ExitStack, label: str, asked: Asked) -> OneCurve:
    reader = stack.enter_context(JournalReader(existing_folder(asked.source)))
    stack.enter_context(reader.snapshot())
    condition, receiver = _places(reader, asked, label)
    return OneCurve(label, reader, condition, receiver)


def _places(reader: JournalReader, asked: Asked, label: str) -> tuple[int, int]:
    """0-based places of the condition and the receiver that are asked for."""
    conditions = [condition.name for condition in reader.plan.conditions]
    receivers = [receiver.name for receiver in reader.plan.receivers]
    condition, receiver = _split(asked.curve or "", receivers)
    option = f"--{label.lower()} CONDITION/RECEIVER"
    return (
        _place(condition, conditions, "condition", f"{asked.source}: {option}"),
        _place(receiver, receivers, "receiver", f"{asked.source}: {option}"),
    )


def _split(text: str, receivers: list[str]) -> tuple[str, str]:
    """Condition and receiver, either of which may be empty; names may hold a "/" themselves."""
    for receiver in sorted(receivers, key=len, reverse=True):
        if text.endswith(f"/{receiver}"):
            return text.removesuffix(f"/{receiver}"), receiver
    condition, slash, number = text.rpartition("/")
    if slash and number.isdigit():
        return condition, number
    return text, ""


def _place(text: str, names: list[str], what: str, option: str) -> int:
    if text:
        return place_of(text, names, what=what)
    if len(names) == 1:
        return 0
    listed = ", ".join(f'"{name}"' for name in names)
    raise PlanError(f"{option}: say which {what}, it has {listed}")
