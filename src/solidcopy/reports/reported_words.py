"""Reported levels in sentences, from facts."""

from collections.abc import Iterator

from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate
from solidcopy.reports.reported_facts import AGAINST_WORDS, ReportedFacts, ReportedLine
from solidcopy.reports.wording import (
    confidence_word,
    number,
    percent,
    places_of,
    plain,
    quoted,
    span,
)
from solidcopy.statistics.reported import FULL_SHARE


def reported_sentences(facts: CampaignFacts) -> tuple[str, ...]:
    """What each receiver's reports are worth, one or two sentences for each curve and truth."""
    return tuple(" ".join(_sentences(facts, curve)) for curve in facts.reported.curves)


def _sentences(facts: CampaignFacts, curve: ReportedFacts) -> Iterator[str]:
    subject = f"Receiver {quoted(curve.receiver)}"
    if len(facts.conditions) > 1:
        subject += f" under {quoted(curve.condition)}"
    line = curve.line
    if not isinstance(line, ReportedLine):
        yield f"{subject}: no line is fitted ({line.reason})."
    else:
        unit = facts.axis.unit
        ends = f"{plain(line.first_value)} to {plain(line.last_value)} {unit}".strip()
        yield (
            f"{subject} reports {_off(line.offset)} the {AGAINST_WORDS[curve.against]} at "
            f"{number(line.at_db, 1)} dB, and {_slope(line.slope)} for each dB more "
            f"({facts.axis.quantity} {ends}, where at least {percent(FULL_SHARE)} have a report)."
        )
    worst = _worst(curve)
    if worst is not None:
        value, n_of, excess, luck_db = worst
        yield (
            f"Below, only the lucky report: at {plain(value)} {facts.axis.unit} ({n_of}) the mean "
            f"lies {_off(excess)} what the line expects; luck explains at most "
            f"{number(luck_db, 1)} dB."
        )


def _off(estimate: Estimate) -> str:
    """E.g. "0.8 dB above (95 %: 0.7 to 0.9 dB)"; the interval has the sign of "above"."""
    places = places_of(estimate.interval)
    way = "above" if estimate.value >= 0.0 else "below"
    low, high = estimate.interval.low, estimate.interval.high
    if estimate.value < 0.0:
        low, high = -high, -low
    ends = f"{confidence_word(estimate.interval.confidence)}: {span(low, high, places)} dB"
    return f"{number(abs(estimate.value), places)} dB ({ends}) {way}"


def _slope(estimate: Estimate) -> str:
    places = places_of(estimate.interval)
    ends = span(estimate.interval.low, estimate.interval.high, places)
    confidence = confidence_word(estimate.interval.confidence)
    return f"{number(estimate.value, places)} dB more ({confidence}: {ends})"


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
