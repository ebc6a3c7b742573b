"""Clues: which kinds of source fit a part, what would confirm them, and with what caution."""

from dataclasses import dataclass

from solidcopy.noise.clues.knowledge import Knowledge, SourceKind, knowledge
from solidcopy.noise.features.figure import Figure
from solidcopy.noise.parts.part import Part, PartKind

ERRORS = 3.0
"""A rhythm fits a span if it lies within so many standard errors of it."""


@dataclass(frozen=True, slots=True)
class Clue:
    """One kind of source that fits a part."""

    name: str
    likely: str
    confirm: tuple[str, ...]
    cautions: tuple[str, ...]
    source: str


def clues_for(part: Part, known: Knowledge | None = None) -> tuple[Clue, ...]:
    """Kinds of source that fit, the most particular first.

    A kind that states a narrow rhythm stands before one that fits many. Nothing is said of how
    probable a kind is: that depends on the place, which a recording does not know.
    """
    known = known or knowledge()
    fitting = [kind for kind in known.kind if _fits(kind, part)]
    fitting.sort(key=_looseness)
    return tuple(
        Clue(
            kind.name,
            kind.likely,
            kind.confirm,
            tuple(known.caution[name].words for name in kind.cautions),
            kind.source,
        )
        for kind in fitting
    )


def _fits(kind: SourceKind, part: Part) -> bool:
    if part.kind not in kind.parts:
        return False
    if kind.period_s is None and not kind.rhythm_hz:
        return True
    rhythm, period = part.rhythm_hz, part.period_s
    if not isinstance(rhythm, Figure) or not isinstance(period, Figure):
        # A part without order fits a kind whose order may be lost, as a motor's.
        return part.kind is PartKind.RANDOM_IMPULSES
    spans = [(*span, rhythm) for span in kind.rhythm_hz]
    if kind.period_s is not None:
        spans.append((*kind.period_s, period))
    return any(
        low - ERRORS * figure.standard_error
        <= figure.value
        <= high + ERRORS * figure.standard_error
        for low, high, figure in spans
    )


def _looseness(kind: SourceKind) -> float:
    """Widest span over its lower end; a kind that states none comes last."""
    spans = [*kind.rhythm_hz, *([kind.period_s] if kind.period_s else [])]
    return max((high / low for low, high in spans), default=1e9)
