"""The trials behind one point of a curve: how each receiver answered each of them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

from solidcopy.actions.served import served
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.scores import Scores
from solidcopy.errors import NotThereError
from solidcopy.reports.wording import plain, quoted
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

PER_PAGE = 50
MOST_TRIALS = 100_000_000
Name = Annotated[str, Field(max_length=400)]

Flags = NDArray[np.bool_]


class Show(StrEnum):
    """Which trials are listed."""

    ALL = "all"
    MISSED = "missed"
    FAILED = "failed"
    FALSE_DECODES = "false-decodes"
    ONE_ALONE = "one-alone"
    """Decoded by one receiver and not by the other, though both answered."""


class AskedTrials(BaseModel):
    """Which trials of which point, from the how manieth on."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    condition: Name
    """Name as in the expanded plan."""
    axis_value: Annotated[float, Field(allow_inf_nan=False)]
    """As in the journal: one of the plan's."""
    show: Show = Show.ALL
    """Which of them."""
    receiver: Name | None = None
    """Whose answers `show` looks at; left out: the first's."""
    other: Name | None = None
    """Of "one-alone": the receiver that missed it; left out: any other."""
    first: Annotated[int, Field(ge=0, le=MOST_TRIALS)] = 0
    """Number of listed trials to leave out at the start."""


@served
@dataclass(frozen=True, slots=True)
class TrialLine:
    """One trial and the answers to it."""

    index: int
    verdicts: tuple[str, ...]
    """Of each receiver: decoded, missed, failed, or not tried."""
    false_decodes: tuple[bool, ...]
    """Whether each receiver reported something that nobody sent."""


@served
@dataclass(frozen=True, slots=True)
class PointTrials:
    """One page of the trials of a point."""

    words: str
    """The point."""
    receivers: tuple[str, ...]
    n_trials: int
    """Of the point, as far as they count: up to the first one missing."""
    n_listed: int
    """Of those, that are listed as asked for."""
    first: int
    """Number of listed trials before this page."""
    per_page: int
    lines: tuple[TrialLine, ...]


def point_trials(folder: Path, asked: AskedTrials) -> PointTrials:
    """The trials of a point, in order of their index.

    Raises: NotThereError if the campaign has no such condition, axis value or receiver.
    """
    with JournalReader(folder) as reader, reader.snapshot():
        plan = reader.plan
        place = _place(asked.condition, [c.name for c in plan.conditions], "condition")
        value = _axis_value(asked.axis_value, plan)
        answers = [_scores(reader, place, heard, value) for heard in range(len(plan.receivers))]
        unit = reader.axis_unit
    names = [receiver.name for receiver in plan.receivers]
    n = max(own.n for own in answers)
    answers = [own.padded(n) for own in answers]
    listed = np.flatnonzero(_listed(asked, names, answers, n))
    shown = listed[asked.first : asked.first + PER_PAGE]
    return PointTrials(
        words=f"{quoted(asked.condition)} at {plain(value)} {unit}".rstrip(),
        receivers=tuple(names),
        n_trials=n,
        n_listed=int(listed.size),
        first=asked.first,
        per_page=PER_PAGE,
        lines=tuple(_lines(shown, [own.at(shown) for own in answers])),
    )


def _scores(reader: JournalReader, condition: int, receiver: int, value: float) -> Scores:
    n = reader.n_counted(condition, receiver, value)
    return reader.scores(reader.series_place(condition, receiver, SENT, value)).first(n)


def _listed(asked: AskedTrials, names: Sequence[str], answers: Sequence[Scores], n: int) -> Flags:
    """Whether each trial is listed, (n,)."""
    heard = 0 if asked.receiver is None else _place(asked.receiver, names, "receiver")
    own = answers[heard]
    match asked.show:
        case Show.ALL:
            return np.ones(n, np.bool_)
        case Show.MISSED:
            return own.is_missed
        case Show.FAILED:
            return own.is_failed
        case Show.FALSE_DECODES:
            return own.has_false
        case Show.ONE_ALONE:
            others = [place for place in range(len(names)) if place != heard]
            if asked.other is not None:
                others = [_place(asked.other, names, "receiver")]
            missed = [answers[place].is_missed for place in others]
            found: Flags = own.is_decoded & np.logical_or.reduce([*missed, np.zeros(n, np.bool_)])
            return found


def _lines(shown: NDArray[np.int64], answers: Sequence[Scores]) -> Iterator[TrialLine]:
    """Of the trials with these indexes."""
    verdicts = zip(*(own.verdicts for own in answers), strict=True)
    false_decodes = zip(*(own.has_false.tolist() for own in answers), strict=True)
    for index, said, is_false in zip(shown.tolist(), verdicts, false_decodes, strict=True):
        words = tuple("not tried" if verdict is None else verdict.value for verdict in said)
        yield TrialLine(index=index, verdicts=words, false_decodes=is_false)


def _place(name: str, names: Sequence[str], what: str) -> int:
    if name not in names:
        listed = ", ".join(map(quoted, names[:20]))
        raise NotThereError(f"no {what} {quoted(name[:80])} in this campaign; it has {listed}")
    return list(names).index(name)


def _axis_value(asked: float, plan: Plan) -> float:
    values = plan.axis.points()
    if asked not in values:
        listed = ", ".join(map(plain, values[:40]))
        raise NotThereError(f"no axis value {plain(asked)} in this campaign; it has {listed}")
    return asked + 0.0
