"""What a receiver says of a recording and its twin, and what each part of the twin costs it."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.cost_figures import Difference, Figures
from solidcopy.actions.cost_plan import OWN
from solidcopy.actions.cost_words import DOUBTFUL
from solidcopy.actions.folder import existing_folder
from solidcopy.actions.twin_plan import TWIN, WITHOUT
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import PlanError
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import confidence_word, number, places_of, span
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.statistics.threshold import Threshold

ENOUGH_DB = 0.5
"""An interval this short on both sides makes agreement worth saying."""


@dataclass(frozen=True, slots=True)
class PartCost:
    """What one group of parts costs, by taking it out."""

    group: str
    cost: Difference


@dataclass(frozen=True, slots=True)
class TwinAnswer:
    """A twin held to its recording by a receiver."""

    receiver: str
    over_floor_db: float
    """Mean power of the recording over the twin's white floor, in 2500 Hz."""
    own: Threshold | NoThreshold
    """SNR in 2500 Hz against all of the recording's power at which half get through."""
    twin: Threshold | NoThreshold
    """SNR in 2500 Hz against the twin's white floor."""
    apart: Estimate | NoThreshold
    """Signal that the twin needs more than the recording at the same level, dB."""
    parts: tuple[PartCost, ...]
    is_doubtful: bool
    """Whether the points of either hardly follow a curve."""
    is_finished: bool

    def text(self) -> str:
        """For a person."""
        lines = [_agreement(self), _thresholds(self)]
        lines += [DOUBTFUL] if self.is_doubtful else []
        lines += [_part_sentence(part) for part in self.parts]
        if self.parts:
            lines.append(
                "What parts cost does not add up: where one is taken out, another still does harm, "
                "or does more."
            )
        if not self.is_finished:
            lines.append("Not finished: the same command goes on.")
        return "\n".join(line for line in lines if line)

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {
            "receiver": self.receiver,
            "over_floor_db": self.over_floor_db,
            "twin_needs_more_db": _shift(self.apart),
            "parts_db": {part.group: _shift(part.cost.shift) for part in self.parts},
            "is_finished": self.is_finished,
            "sentence": _agreement(self),
        }


def read_twin(source: Path, over_floor_db: float) -> TwinAnswer:
    """The answer of a campaign on a twin, for its first receiver.

    Args:
        source: campaign folder or plan file.
        over_floor_db: as it was fitted.
    Raises: JournalError if nothing was begun; PlanError if the plan lacks the two conditions.
    """
    with JournalReader(existing_folder(source)) as reader, reader.snapshot():
        figures, plan = Figures(reader), reader.plan
        names = [condition.name for condition in plan.conditions]
        for name in (OWN, TWIN):
            if name not in names:
                raise PlanError(f'the plan holds no condition named "{name}"; leave that name')
        own, twin = names.index(OWN), names.index(TWIN)
        return TwinAnswer(
            receiver=plan.receivers[0].name,
            over_floor_db=over_floor_db,
            own=figures.threshold(own, 0),
            twin=figures.threshold(twin, 0),
            apart=_apart(figures.difference(own, twin, 0).shift, over_floor_db),
            parts=tuple(
                PartCost(name.removeprefix(WITHOUT), figures.difference(place, twin, 0))
                for place, name in enumerate(names)
                if name.startswith(WITHOUT)
            ),
            is_doubtful=figures.is_doubtful(own, 0) or figures.is_doubtful(twin, 0),
            is_finished=all(reader.is_finished(place, 0) for place in range(len(names))),
        )


def _apart(shift: Estimate | NoThreshold, over_floor_db: float) -> Estimate | NoThreshold:
    """The two axes count from powers that lie `over_floor_db` apart: no part of the difference."""
    if isinstance(shift, NoThreshold):
        return shift
    interval = shift.interval
    low, high = interval.low - over_floor_db, interval.high - over_floor_db
    return Estimate(
        shift.value - over_floor_db, Interval(low, high, interval.confidence, interval.method)
    )


def _agreement(found: TwinAnswer) -> str:
    apart = found.apart
    if isinstance(apart, NoThreshold):
        return f"Whether the twin does the same harm cannot be told yet: {apart.reason}."
    ends, places = apart.interval, places_of(apart.interval)
    confidence = confidence_word(ends.confidence)
    if not ends.holds(0.0):
        way = "kinder" if apart.value < 0.0 else "harsher"
        low, high = sorted((abs(ends.low), abs(ends.high)))
        return (
            f"Recording and twin do not agree: the twin is {number(abs(apart.value), places)} dB "
            f"{way} ({confidence}: {span(low, high, places)})."
        )
    largest = number(max(-ends.low, ends.high), places)
    if ends.half_width > ENOUGH_DB:
        return (
            f"No difference between recording and twin is shown, but one of up to {largest} dB is "
            f"not ruled out ({confidence}): take more --trials or a longer recording."
        )
    return (
        f"Recording and twin agree: the same share gets through with no more than {largest} dB "
        f"between them ({confidence}: {span(ends.low, ends.high, places)} dB more in the twin)."
    )


def _thresholds(found: TwinAnswer) -> str:
    if isinstance(found.own, NoThreshold) or isinstance(found.twin, NoThreshold):
        return ""
    own, twin = found.own.value, found.twin.value - found.over_floor_db
    return (
        f"Half of the messages get through at SNR {number(own, 1)} dB in 2500 Hz in the recording "
        f"and at {number(twin, 1)} dB in the twin, both against the recording's mean power between "
        "200 and 2700 Hz."
    )


def _part_sentence(part: PartCost) -> str:
    shift = part.cost.shift
    if isinstance(shift, NoThreshold):
        return f"{part.group}: its cost cannot be told yet ({shift.reason})."
    ends, places = shift.interval, places_of(shift.interval)
    confidence = confidence_word(ends.confidence)
    if ends.holds(0.0):
        return (
            f"{part.group}: no cost is shown ({confidence}: "
            f"{span(ends.low, ends.high, places)} dB)."
        )
    return (
        f"{part.group}: costs {number(shift.value, places)} dB "
        f"({confidence}: {span(ends.low, ends.high, places)})."
    )


def _shift(found: Estimate | NoThreshold) -> dict[str, Any]:
    if isinstance(found, NoThreshold):
        return {"reason": found.reason}
    interval = found.interval
    return {
        "value": found.value,
        "low": interval.low,
        "high": interval.high,
        "confidence": interval.confidence,
        "method": interval.method,
    }
