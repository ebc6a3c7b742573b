"""How far a curve lies from a curve of another campaign that is laid over it."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from solidcopy.actions.compare_across import Asked, compare_across
from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace
from solidcopy.reports.across_words import across_sentences

Words = Annotated[str, Field(max_length=1000)]


class AskedBeside(BaseModel):
    """The two curves."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    curve: Words
    """Of the campaign itself: "CONDITION/RECEIVER"."""
    other: Words
    """Name of the other campaign."""
    other_curve: Words
    """Of that: "CONDITION/RECEIVER"."""


@served
@dataclass(frozen=True, slots=True)
class ComparedBeside:
    """What `solidcopy compare` says of the two: A is the curve of the campaign itself."""

    sentences: tuple[str, ...]


def compare_beside(workspace: Workspace, name: str, asked: AskedBeside) -> ComparedBeside:
    """The comparison, paired where the two share their trials.

    Raises: PlanError with all reasons if the two are unlike; NotThereError, JournalError.
    """
    across = compare_across(
        Asked(workspace.campaign(name), asked.curve),
        Asked(workspace.campaign(asked.other), asked.other_curve),
    )
    return ComparedBeside(tuple(across_sentences(across.facts)))
