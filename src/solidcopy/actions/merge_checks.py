"""Whether campaigns may be merged: one plan, carried out by the same recipes and receivers."""

from pathlib import Path
from typing import NamedTuple, NoReturn

from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import JournalError

SAME_FIELDS = ("mode", "root_seed", "axis", "map", "live")
"""Fields of two plans that must be equal. Conditions and receivers are held together by identity,
audio is part of it, and the rest (title, notes, when to stop) alters no outcome."""


class Opened(NamedTuple):
    """A campaign's journal and how the campaign was named."""

    folder: Path
    reader: JournalReader


def refuse_another_plan(first: Opened, other: Opened) -> None:
    """JournalError unless every trial of the one could be a trial of the other."""
    a, b = first.reader.plan, other.reader.plan
    for field in SAME_FIELDS:
        if getattr(a, field) != getattr(b, field):
            _refuse(first, other, f'"{field}" differs between their plans')
    for what, ours, theirs in (
        ("condition", a.conditions, b.conditions),
        ("receiver", a.receivers, b.receivers),
    ):
        if len(ours) != len(theirs):
            _refuse(first, other, f"one has {len(ours)} {what}s, the other {len(theirs)}")
        for place, (mine, their) in enumerate(zip(ours, theirs, strict=True)):
            if _identity(first, what, place) == _identity(other, what, place):
                continue
            is_same = mine == their.model_copy(update={"name": mine.name})
            why = (
                "is the same in both plans, but was carried out in another way: by another version "
                "of the program or of the receiver, or with another recording"
                if is_same
                else "differs between their plans"
            )
            _refuse(first, other, f'{what} {place + 1} ("{mine.name}") {why}')


def _identity(opened: Opened, what: str, place: int) -> str:
    """As it was when the journal was written."""
    if what == "condition":
        return opened.reader.identities(place, 0)[0]
    return opened.reader.identities(0, place)[1]


def _refuse(first: Opened, other: Opened, why: str) -> NoReturn:
    raise JournalError(
        f"{other.folder} and {first.folder} cannot be merged: {why}; only campaigns of one plan, "
        "carried out by the same recipes and receivers, can"
    )
