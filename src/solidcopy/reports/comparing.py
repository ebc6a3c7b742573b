"""One comparison in words: yes, no, not yet, or why there is no figure. Pure functions of facts."""

import math

from solidcopy.reports.facts import AxisFacts, CampaignFacts
from solidcopy.reports.measured import (
    CurveFacts,
    Estimate,
    MoreTrials,
    PenaltyFacts,
)
from solidcopy.reports.wording import (
    about,
    capital,
    confidence_word,
    counted,
    duration,
    number,
    p_value_text,
    places_of,
    quoted,
    span,
    whole,
)
from solidcopy.statistics.evidence import NoThreshold

HALF = 0.5

SIGNIFICANCE = 0.05
"""Below this a difference between pairs is called shown; it goes with intervals of 95 %."""


def comparison_sentence(facts: CampaignFacts, penalty: PenaltyFacts) -> str:
    """One comparison at the 50 % point: yes, no, not yet, or why there is no figure."""
    shift, p_value = penalty.shift, penalty.pairs.p_value
    if p_value is not None and any(has_no_direction(facts, c) for c in _sides(facts, penalty)):
        return _pairs_sentence(facts, penalty, p_value)
    if isinstance(shift, NoThreshold):
        return _without_shift(facts, penalty, shift)
    places = places_of(shift.interval)
    more, less = directions(facts, penalty)
    low, high = shift.interval.low, shift.interval.high
    confidence = confidence_word(shift.interval.confidence)
    unit = facts.axis.step_unit
    if low > 0.0 or high < 0.0:
        if low > 0.0:
            size, ends, way = shift.value, span(low, high, places), more
        else:
            size, ends, way = -shift.value, span(-high, -low, places), less
        start, than = _subject(facts, penalty)
        step = f"{number(size, places)} {unit}".strip()
        return f"{start} at {step} {way} than {than} ({confidence}: {ends})."
    ends = _ends_across_zero(shift, unit, more, less)
    pair = _pair(facts, penalty)
    if penalty.more is not None:
        return (
            f"Not yet: no difference between {pair} is shown ({confidence}: {ends}), and a small "
            f"one is not ruled out; {_needed(penalty.more, unit)}."
        )
    largest = f"{number(max(-low, high), places)} {unit}".strip()
    return f"Between {pair} no difference larger than {largest} is shown ({confidence}: {ends})."


def has_no_direction(facts: CampaignFacts, curve: CurveFacts) -> bool:
    """Whether an axis such as a frequency shows no rise from left to right on this curve."""
    return facts.axis.sense == "other" and isinstance(curve.threshold(HALF).at, NoThreshold)


def _subject(facts: CampaignFacts, penalty: PenaltyFacts) -> tuple[str, str]:
    """Start of the sentence and what follows "than"."""
    if penalty.compares == "condition":
        heard = f", heard by {quoted(penalty.within)}" if len(facts.receivers) > 1 else ""
        return (
            f"With {quoted(penalty.name)}{heard}, the same share gets through",
            f"with {quoted(penalty.against)}",
        )
    under = f" with {quoted(penalty.within)}" if len(facts.conditions) > 1 else ""
    return (
        f"{capital(f'receiver {quoted(penalty.name)}')} gets the same share through{under}",
        f"receiver {quoted(penalty.against)}",
    )


def _pair(facts: CampaignFacts, penalty: PenaltyFacts) -> str:
    kind = "receivers " if penalty.compares == "receiver" else ""
    tail = ""
    if penalty.compares == "receiver" and len(facts.conditions) > 1:
        tail = f" with {quoted(penalty.within)}"
    elif penalty.compares == "condition" and len(facts.receivers) > 1:
        tail = f", heard by {quoted(penalty.within)},"
    return f"{kind}{quoted(penalty.name)} and {quoted(penalty.against)}{tail}"


def directions(facts: CampaignFacts, penalty: PenaltyFacts) -> tuple[str, str]:
    """Words for a threshold farther right and farther left on the axis."""
    names = (
        (penalty.name, penalty.against) if penalty.compares == "condition" else (penalty.within,)
    )
    is_tied = any(facts.condition(name).has_fixed_ratio for name in names)
    return axis_directions(facts.axis, is_tied=is_tied)


def axis_directions(axis: AxisFacts, *, is_tied: bool) -> tuple[str, str]:
    """Words for farther right and farther left on an axis; `is_tied`: a disturbance keeps its ratio
    to the signal."""
    match axis.sense:
        case "snr" if is_tied:
            # What is tied to the signal grows with it: only the noise differs along the axis.
            return "better SNR", "worse SNR"
        case "snr" | "signal_level":
            return "more signal", "less signal"
        case "ratio":
            return f"higher {axis.quantity}", f"lower {axis.quantity}"
        case "interference":
            return "more interference", "less interference"
        case "other":
            return f"more {axis.quantity}", f"less {axis.quantity}"


def _ends_across_zero(shift: Estimate, unit: str, more: str, less: str) -> str:
    """Interval that holds zero: e.g. "0.2 dB less signal to 0.4 dB more signal"."""
    places = places_of(shift.interval)
    left = f"{number(-shift.interval.low, places)} {unit}".strip()
    right = f"{number(shift.interval.high, places)} {unit}".strip()
    return f"{left} {less} to {right} {more}"


def _needed(more: MoreTrials, unit: str) -> str:
    time = f", {duration(more.seconds)}," if more.seconds is not None else ""
    precision = f"±{more.half_width:g} {unit}".strip()
    return f"about {about(more.n_trials)} more trials{time} would narrow it to {precision}"


def _without_shift(facts: CampaignFacts, penalty: PenaltyFacts, shift: NoThreshold) -> str:
    """Why a comparison has no figure, and the one-sided statement where one is possible."""
    this, first = _sides(facts, penalty)
    subject = (
        f"With {quoted(penalty.name)}"
        if penalty.compares == "condition"
        else f"With receiver {quoted(penalty.name)}"
    )
    here, there = this.threshold(HALF).at, first.threshold(HALF).at
    if isinstance(here, NoThreshold) and isinstance(there, Estimate):
        said = _one_sided(facts, penalty, here, there)
        if said is not None:
            return f"{subject}, {said}; {here.reason}."
        return f"{subject}, no figure can be given yet: {here.reason}."
    if isinstance(there, NoThreshold):
        return (
            f"No comparison with {quoted(penalty.against)} can be given yet: there, {there.reason}."
        )
    return f"{subject}, no figure can be given yet: {shift.reason}."


def _pairs_sentence(facts: CampaignFacts, penalty: PenaltyFacts, p_value: float) -> str:
    """Where the axis gives no figure: which side decodes more, trial against trial."""
    pairs = penalty.pairs
    name, against = quoted(penalty.name), quoted(penalty.against)
    counts = (
        f"of {counted(pairs.n_pairs, 'pair')} of trials, {whole(pairs.n_only_this)} got through "
        f"only with {name} and {whole(pairs.n_only_first)} only with {against} "
        f"({pairs.test_words}: p {p_value_text(p_value)})"
    )
    if p_value >= SIGNIFICANCE:
        return f"Between {_pair(facts, penalty)} no difference is shown: {counts}."
    word = "fewer" if pairs.n_only_this < pairs.n_only_first else "more"
    return f"With {name}, {word} messages get through than with {against}: {counts}."


def _one_sided(
    facts: CampaignFacts, penalty: PenaltyFacts, here: NoThreshold, there: Estimate
) -> str | None:
    """E.g. "fewer than half got through everywhere: it takes at least 3 dB more signal"."""
    if here.bound is None or here.limit is None:
        return None
    more, less = directions(facts, penalty)
    if here.bound == "above":
        least, way = here.limit - there.interval.high, more
        start = "fewer than half of the messages got through everywhere"
    else:
        least, way = there.interval.low - here.limit, less
        start = "more than half of the messages got through everywhere"
    if least <= 0.0:
        return start
    # A least figure is rounded down.
    step = f"{number(math.floor(10.0 * least) / 10.0, 1)} {facts.axis.step_unit}".strip()
    confidence = confidence_word(there.interval.confidence)
    verb = "it takes" if here.bound == "above" else "it gets by with"
    return (
        f"{start}: {verb} at least {step} {way} than {quoted(penalty.against)} ({confidence} sure)"
    )


def _sides(facts: CampaignFacts, penalty: PenaltyFacts) -> tuple[CurveFacts, CurveFacts]:
    """Curves of the compared one and of the first."""
    if penalty.compares == "condition":
        return (
            facts.curve(penalty.name, penalty.within),
            facts.curve(penalty.against, penalty.within),
        )
    return facts.curve(penalty.within, penalty.name), facts.curve(penalty.within, penalty.against)
