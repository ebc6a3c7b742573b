"""What a map shows, in sentences. Pure functions of facts."""

from collections.abc import Iterator, Sequence

from solidcopy.reports.facts import CampaignFacts, MapFacts
from solidcopy.reports.map_facts import MapRow, hardest, hardness, map_rows
from solidcopy.reports.measured import Estimate, Line
from solidcopy.reports.wording import (
    confidence_word,
    counted,
    number,
    places_of,
    plain,
    quoted,
    span,
    whole,
)
from solidcopy.statistics.evidence import NoThreshold

BEYOND = float("inf")


def map_sentences(facts: CampaignFacts) -> Iterator[str]:
    """For each map and receiver: where it harms most and least, and what cannot be told apart."""
    for a_map in facts.maps:
        for receiver in facts.receivers:
            rows = map_rows(facts, a_map, receiver.name)
            heard = f", heard by {quoted(receiver.name)}," if len(facts.receivers) > 1 else ""
            yield from _sentences(facts, a_map, rows, f"{quoted(a_map.condition)}{heard}")


def _sentences(
    facts: CampaignFacts, a_map: MapFacts, rows: Sequence[MapRow], subject: str
) -> Iterator[str]:
    worst, best = hardest(facts, rows), _easiest(facts, rows)
    if worst is None or best is None:
        yield (
            f"With {subject.rstrip(',')} no 50 % point can be given at any value of the map: "
            f"{_first_reason(rows)}."
        )
        return
    least, most = hardness(facts, best), hardness(facts, worst)
    if most == -BEYOND:
        yield (
            f"{subject} never takes half of the messages away, at any of "
            f"{counted(len(rows), 'value')} of the map: more than half get through even at "
            f"{_axis_end(facts, is_hard=True)}."
        )
    elif most == BEYOND:
        beyond = [row.value for row in rows if hardness(facts, row) == BEYOND]
        yield (
            f"{subject} takes more than half of the messages away over the whole axis, even at "
            f"{_axis_end(facts, is_hard=False)}, at {_places(a_map, rows, beyond)}."
        )
    else:
        yield f"{subject} harms most where {_at(a_map, worst)}: {_half(facts, a_map, worst)}."
        yield from _not_told_apart(a_map, rows, worst, subject)
    if least != most:
        yield _least(facts, a_map, rows, subject)
    yield from _doubts(rows, subject)


def _least(facts: CampaignFacts, a_map: MapFacts, rows: Sequence[MapRow], subject: str) -> str:
    best = _easiest(facts, rows)
    assert best is not None
    if hardness(facts, best) == -BEYOND:
        harmless = [row.value for row in rows if hardness(facts, row) == -BEYOND]
        return (
            f"With {subject} more than half get through even at {_axis_end(facts, is_hard=True)} "
            f"at {_places(a_map, rows, harmless)}."
        )
    near = _near(rows, best)
    if not near:
        return f"{subject} harms least where {_at(a_map, best)}: {_half(facts, a_map, best)}."
    alike = [row.value for row in rows if row is best or row.value in near]
    return (
        f"{subject} harms least at {_places(a_map, rows, alike)}, which cannot be told apart; "
        f"where {_at(a_map, best)}, {_half(facts, a_map, best)}."
    )


def _easiest(facts: CampaignFacts, rows: Sequence[MapRow]) -> MapRow | None:
    placed = [(hard, row) for row in rows if (hard := hardness(facts, row)) is not None]
    return min(placed, key=lambda pair: pair[0])[1] if placed else None


def _first_reason(rows: Sequence[MapRow]) -> str:
    reasons = [row.half.reason for row in rows if isinstance(row.half, NoThreshold)]
    return reasons[0] if reasons else "this axis has no harder end"


def _at(a_map: MapFacts, row: MapRow) -> str:
    """E.g. "the carrier's offset from the lowest tone is 18.75 Hz"."""
    return f"the {a_map.quantity} is {plain(row.value)} {a_map.unit}".strip()


def _half(facts: CampaignFacts, a_map: MapFacts, row: MapRow) -> str:
    """Where half of the messages get through: in an S/I, how strong the disturbance may be."""
    at = row.half
    assert isinstance(at, Estimate)
    places, low, high = places_of(at.interval), at.interval.low, at.interval.high
    confidence = confidence_word(at.interval.confidence)
    if facts.axis.sense == "ratio" and a_map.owner == facts.axis.owner and high < 0.0:
        return (
            f"half of the messages still get through while it is {number(-at.value, places)} dB "
            f"stronger than the signal ({confidence}: {span(-high, -low, places)})"
        )
    if facts.axis.sense == "ratio" and a_map.owner == facts.axis.owner and low > 0.0:
        return (
            f"for half of the messages to get through, the signal must be "
            f"{number(at.value, places)} dB stronger than it ({confidence}: "
            f"{span(low, high, places)})"
        )
    value = f"{number(at.value, places)} {facts.axis.unit}".strip()
    return (
        f"half of the messages get through at {facts.axis.quantity} {value} ({confidence}: "
        f"{span(low, high, places)})"
    )


def _not_told_apart(
    a_map: MapFacts, rows: Sequence[MapRow], worst: MapRow, subject: str
) -> Iterator[str]:
    """The worst of many values is partly the unluckiest: name all that may be it."""
    near = _near(rows, worst)
    if near:
        yield (
            f"With {subject} it is not sure which value harms most: the 95 % interval there "
            f"overlaps those at {_places(a_map, rows, near)}."
        )


def _near(rows: Sequence[MapRow], this: MapRow) -> list[float]:
    """Other values whose interval overlaps that of one value."""
    assert isinstance(this.half, Estimate)
    there = this.half.interval
    return [
        row.value
        for row in rows
        if isinstance(row.half, Estimate)
        and row is not this
        and row.half.interval.low <= there.high
        and row.half.interval.high >= there.low
    ]


def _places(a_map: MapFacts, rows: Sequence[MapRow], values: Sequence[float]) -> str:
    """E.g. "3 of 19 values (0 to 25 Hz and 250 Hz)": neighbours on the map are joined."""
    order = [row.value for row in rows]
    runs: list[list[float]] = []
    for value in values:
        if runs and order.index(value) == order.index(runs[-1][-1]) + 1:
            runs[-1].append(value)
        else:
            runs.append([value])
    texts = [
        f"{plain(run[0])} to {plain(run[-1])}" if len(run) > 1 else plain(run[0]) for run in runs
    ]
    said = ", ".join(texts)
    which = "all" if len(values) == len(order) else f"{whole(len(values))} of"
    return f"{which} {counted(len(order), 'value')} ({said} {a_map.unit}".rstrip() + ")"


def _axis_end(facts: CampaignFacts, *, is_hard: bool) -> str:
    """The hardest or easiest tested axis value in words."""
    is_falling = facts.axis.sense == "interference"
    value = facts.axis.values[0 if is_hard != is_falling else -1]
    return f"{facts.axis.quantity} {plain(value)} {facts.axis.unit}".strip()


def _doubts(rows: Sequence[MapRow], subject: str) -> Iterator[str]:
    n_doubtful = sum(
        isinstance(row.curve.line, Line) and row.curve.line.is_doubtful for row in rows
    )
    if n_doubtful:
        yield (
            f"At {whole(n_doubtful)} of {counted(len(rows), 'value')} of {subject.rstrip(',')} the "
            "points hardly follow a curve of this form: look at the shares before using those "
            "thresholds."
        )
