"""Two curves of any two campaigns set against each other: the words, from facts."""

import textwrap
from collections.abc import Iterator

from solidcopy.reports.across import AcrossFacts, SideFacts
from solidcopy.reports.comparing import axis_directions
from solidcopy.reports.estimates import unsigned_estimate
from solidcopy.reports.measured import Estimate, PenaltyFacts
from solidcopy.reports.terminal import WIDTH
from solidcopy.reports.wording import (
    about,
    capital,
    confidence_word,
    counted,
    glued,
    number,
    p_value_text,
    places_of,
    share_word,
    span,
    whole,
)
from solidcopy.statistics.evidence import NoThreshold


def across_headline(facts: AcrossFacts) -> str:
    """One sentence: how far A lies from B at 50 %, or why that cannot be said."""
    return _difference(facts, facts.penalties[0])


def across_text(facts: AcrossFacts) -> str:
    """All sentences for a terminal, each on lines of its own."""
    wrapped = [
        textwrap.fill(glued(said), WIDTH, subsequent_indent="  ", break_on_hyphens=False)
        for said in across_sentences(facts)
    ]
    return "\n".join(wrapped).replace("\u00a0", " ")


def across_sentences(facts: AcrossFacts) -> Iterator[str]:
    """How far A lies from B, what each of them is, how they were paired, and what differs."""
    if facts.overruled is not None:
        yield (
            f"Compared against the rules, as the user says: {facts.overruled.because}. What spoke "
            f"against it: {'; '.join(facts.overruled.reasons)}."
        )
    yield across_headline(facts)
    for penalty in facts.penalties[1:]:
        if isinstance(penalty.shift, Estimate):
            yield _difference(facts, penalty)
    for label, side in (("A", facts.a), ("B", facts.b)):
        yield f"{label} is {_side(facts, side)}."
    yield facts.pairing
    pairs = facts.penalties[0].pairs
    if pairs.p_value is not None:
        yield (
            f"Of {counted(pairs.n_pairs, 'pair')} of trials, {whole(pairs.n_only_this)} got "
            f"through only in A and {whole(pairs.n_only_first)} only in B ({pairs.test_words}: p "
            f"{p_value_text(pairs.p_value)})."
        )
    yield _differences(facts)


def _differences(facts: AcrossFacts) -> str:
    if not facts.differences:
        return "No setting differs: the same condition, receiver and audio."
    return f"Differs in: {'; '.join(facts.differences)}. Same in everything else."


def _side(facts: AcrossFacts, side: SideFacts) -> str:
    """Which curve, and where it reaches half and most."""
    curve = side.curve
    at = [
        f"{100 * threshold.p:g} % at {unsigned_estimate(threshold.at)} {facts.axis.unit}".strip()
        for threshold in curve.thresholds
        if isinstance(threshold.at, Estimate)
    ]
    trials = counted(curve.n_trials, "trial") + ("" if side.is_finished else ", not finished")
    reached = f": {facts.axis.quantity} {', '.join(at)}" if at else ""
    return f"“{curve.condition}” heard by “{curve.receiver}” in {side.folder} ({trials}){reached}"


def _difference(facts: AcrossFacts, penalty: PenaltyFacts) -> str:
    share = share_word(penalty.p)
    shift = penalty.shift
    if isinstance(shift, NoThreshold):
        return _without(facts, shift, share)
    more, less = axis_directions(facts.axis, is_tied=facts.is_tied)
    unit, interval = facts.axis.step_unit, shift.interval
    places = places_of(interval)
    confidence = confidence_word(interval.confidence)
    if interval.low > 0.0 or interval.high < 0.0:
        is_more = interval.low > 0.0
        size, ends = shift.value, (interval.low, interval.high)
        if not is_more:
            size, ends = -shift.value, (-interval.high, -interval.low)
        step = f"{number(size, places)} {unit}".strip()
        return (
            f"{share} get through in A at {step} {more if is_more else less} than in B "
            f"({confidence}: {span(*ends, places)})."
        )
    left, right = (
        f"{number(end, places)} {unit}".strip() for end in (-interval.low, interval.high)
    )
    said = f"no difference is shown ({confidence}: {left} {less} to {right} {more} in A)"
    if penalty.more is None:
        return f"{share}: {said}."
    return (
        f"{share}: not yet, {said}; about {about(penalty.more.n_trials)} more trials would narrow "
        f"it to ±{penalty.more.half_width:g} {unit}."
    )


def _without(facts: AcrossFacts, shift: NoThreshold, share: str) -> str:
    """Why there is no figure, and the one-sided statement where one is possible."""
    reason = capital(shift.reason.replace("“A”: ", "in A, ").replace("“B”: ", "in B, "))
    if shift.bound is None or shift.limit is None or facts.axis.sense == "interference":
        return f"{share}: no difference can be given. {reason}."
    more, less = axis_directions(facts.axis, is_tied=facts.is_tied)
    is_more = shift.bound == "above"
    least = shift.limit if is_more else -shift.limit
    if least <= 0.0:
        return f"{share}: no difference can be given. {reason}."
    step = f"{number(least, 1)} {facts.axis.step_unit}".strip()
    way = more if is_more else less
    return f"{share} take at least about {step} {way} in A than in B. {reason}."
