"""Reported levels in sentences, from facts."""

from collections.abc import Iterator

from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate
from solidcopy.reports.reported_facts import ReportedFacts, ReportedLine
from solidcopy.reports.wording import (
    capital,
    confidence_word,
    number,
    percent,
    places_of,
    plain,
    quoted,
    span,
)
from solidcopy.statistics.reported import FULL_SHARE


def reported_sentences(facts: CampaignFacts) -> tuple[tuple[ReportedFacts, str], ...]:
    """What each receiver's reports are worth under each condition, against the S/N if there is
    noise; the tables hold the rest."""
    curves = facts.reported.curves
    first = {(c.condition, c.receiver): c for c in reversed(curves)}
    kept = [curve for curve in curves if first[curve.condition, curve.receiver] is curve]
    return tuple((curve, " ".join(_sentences(facts, curve))) for curve in kept)


def _sentences(facts: CampaignFacts, curve: ReportedFacts) -> Iterator[str]:
    subject = f"receiver {quoted(curve.receiver)}"
    if len(facts.conditions) > 1:
        subject += f" under {quoted(curve.condition)}"
    line = curve.line
    if not isinstance(line, ReportedLine):
        yield f"{capital(subject)}: no line is fitted ({line.reason})."
    else:
        unit = facts.axis.unit
        ends = f"{plain(line.first_value)} to {plain(line.last_value)} {unit}".strip()
        yield (
            f"At a true {curve.against} of {number(line.at_db, 1)} dB, {subject} "
            f"reports {_off(line.offset, 'too much', 'too little')}; each dB more adds "
            f"{_slope(line.slope)} to the report ({facts.axis.quantity} {ends}, where at least "
            f"{percent(FULL_SHARE)} of the messages have a report)."
        )
    worst = _worst(curve)
    if worst is not None:
        value, n_of, excess, luck_db = worst
        yield (
            f"Where fewer do, only the lucky have one: at {plain(value)} {facts.axis.unit} "
            f"({n_of}) the mean lies {_off(excess, 'above', 'below')} what the line expects; luck "
            f"explains at most {number(luck_db, 1)} dB."
        )


def _off(estimate: Estimate, above: str, below: str) -> str:
    """E.g. "0.8 dB (95 %: 0.7 to 0.9 dB) above"; the interval has the sign of the words."""
    places = places_of(estimate.interval)
    low, high = estimate.interval.low, estimate.interval.high
    if estimate.value < 0.0:
        low, high = -high, -low
    ends = f"{confidence_word(estimate.interval.confidence)}: {span(low, high, places)} dB"
    way = above if estimate.value >= 0.0 else below
    return f"{number(abs(estimate.value), places)} dB ({ends}) {way}"


def _slope(estimate: Estimate) -> str:
    places = places_of(estimate.interval)
    ends = span(estimate.interval.low, estimate.interval.high, places)
    confidence = confidence_word(estimate.interval.confidence)
    return f"{number(estimate.value, places)} dB ({confidence}: {ends})"


def _worst(curve: ReportedFacts) -> tuple[float, str, Estimate, float] | None:
    """The lowest share of reports that still has a figure for its excess."""
    found = [
        (point.n_reported / point.n_answered, point)
        for point in curve.points
        if isinstance(point.excess, Estimate) and point.luck_db is not None
    ]
    if not found:
        return None
    share, point = min(found, key=lambda item: item[0])
    assert isinstance(point.excess, Estimate) and point.luck_db is not None
    return point.axis_value, f"{percent(share)} have a report", point.excess, point.luck_db
