"""A duel in words: better, worse or not yet. Pure functions of facts and of what is revealed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from solidcopy.reports.comparing import SIGNIFICANCE, axis_directions
from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.reports.decision_words import risk_words, tally_words, verdict_words
from solidcopy.reports.duel_facts import (
    CostDuel,
    DuelFacts,
    FalseDuel,
    Needed,
    SideBySide,
)
from solidcopy.reports.wording import (
    about,
    capital,
    confidence_word,
    counted,
    decimals_for,
    duration,
    number,
    p_value_text,
    places_of,
    plain,
    quoted,
    span,
    whole,
)
from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold

Letter = Literal["A", "B"]

SAME_COST = 1.1
"""Times that differ by less are called about the same: they hang on the machine's other work."""


@dataclass(frozen=True, slots=True)
class Names:
    """Who is who; None as long as it is hidden."""

    a: str | None = None
    b: str | None = None

    def of(self, letter: Letter) -> str:
        """The letter, beside the name if that may be seen."""
        name = self.a if letter == "A" else self.b
        return letter if name is None else f"{quoted(name)} ({letter})"


def headline(facts: DuelFacts, names: Names) -> str:
    """One sentence: who decodes more, where the campaign runs until that is decided; which one gets
    by with less; false decodes; and what it costs."""
    sides = facts.overall
    judged = facts.judged()
    is_tied = any(condition.is_tied for condition in judged)
    clauses = [difference_words(facts, sides, names, is_tied=is_tied)]
    if len(judged) > 1:
        clauses[0] = f"over {len(judged)} conditions: {clauses[0]}"
    if facts.decisions():
        clauses.insert(0, decided_words(facts.decisions(), names))
    if sides.false.counts.n:
        clauses.append(false_words(sides.false))
    if isinstance(sides.cost, CostDuel):
        clauses.append(cost_words(sides.cost))
    return f"{capital('; '.join(clauses))}."


def decided_words(decisions: Sequence[DecisionFacts], names: Names) -> str:
    """The verdict by which the campaign stops; of several conditions how many of each."""
    if len(decisions) == 1:
        (decision,) = decisions
        verdict = verdict_words(decision, names.of("A"), names.of("B"))
        return f"{verdict} ({risk_words(decision)})"
    return f"of the conditions, {tally_words(decisions, names.of('A'), names.of('B'))}"


def difference_words(facts: DuelFacts, sides: SideBySide, names: Names, *, is_tied: bool) -> str:
    """Better, worse, not yet, or why there is no figure; no full stop at the end."""
    found = sides.difference
    if isinstance(found, NoThreshold):
        return _without_figure(facts, sides, names, found, is_tied=is_tied)
    interval, unit = found.interval, facts.axis.step_unit
    sure, places = confidence_word(interval.confidence), places_of(interval)
    if not interval.holds(0.0):
        better, other = _order(found.value)
        size = f"{number(abs(found.value), places)} {unit}".strip()
        return (
            f"{names.of(better)} gets the same share through at {size} "
            f"{_easier(facts, is_tied)} than {names.of(other)} ({sure}: {sizes(interval, places)})"
        )
    largest = f"{rounded_up(interval)} {unit}".strip()
    limit = f"one larger than ±{largest} is ruled out ({sure})"
    pair = f"{names.of('A')} and {names.of('B')}"
    if sides.needed is not None:
        return (
            f"not yet: between {pair} no difference is shown, and {limit}; "
            f"{_needed(sides.needed, unit)}"
        )
    return f"between {pair} no difference is shown; {limit}"


def sizes(interval: Interval, places: int) -> str:
    """Ends of an interval without its sign, the smaller first."""
    low, high = sorted((abs(interval.low), abs(interval.high)))
    return span(low, high, places)


def _order(value: float) -> tuple[Letter, Letter]:
    """The better one first: positive means that B needs more."""
    return ("A", "B") if value > 0.0 else ("B", "A")


def _easier(facts: DuelFacts, is_tied: bool) -> str:
    """Where the better one still gets the same share through."""
    right, left = axis_directions(facts.axis, is_tied=is_tied)
    return right if facts.axis.sense == "interference" else left


def rounded_up(interval: Interval, places: int | None = None) -> str:
    """The end farther from zero; never written smaller than it is."""
    largest = max(-interval.low, interval.high)
    if places is None:
        places = max(2, decimals_for(interval.half_width))
    return number(math.ceil(largest * 10.0**places - 1e-9) / 10.0**places, places)


def _needed(needed: Needed, unit: str) -> str:
    time = "" if needed.seconds is None else f", {duration(needed.seconds)} at the pace so far,"
    size = f"{plain(needed.difference)} {unit}".strip()
    return (
        f"to find one of {size} in four duels of five, about {about(needed.n_trials)} more trials"
        f"{time} would be needed"
    )


def _without_figure(
    facts: DuelFacts, sides: SideBySide, names: Names, found: NoThreshold, *, is_tied: bool
) -> str:
    """What is known all the same: a one-sided limit, or which side decodes more."""
    if found.limit is not None and _is_one_sided_verdict(found):
        better, other = _order(1.0 if found.bound == "above" else -1.0)
        size = f"{number(int(abs(found.limit) * 10.0) / 10.0, 1)} {facts.axis.step_unit}".strip()
        return (
            f"{names.of(better)} gets the same share through at {size} or more "
            f"{_easier(facts, is_tied)} than {names.of(other)} (95 % sure; {found.reason})"
        )
    lean = sides.lean
    if not lean.counts.n:
        return "no trial was answered by both yet, so nothing can be said"
    counts = f"{whole(lean.wins.n_a)} to {whole(lean.wins.n_b)}"
    if lean.p_exact < SIGNIFICANCE:
        better, other = _order(lean.wins.n_a - lean.wins.n_b)
        verdict = f"{names.of(better)} gets more messages through than {names.of(other)}"
    else:
        verdict = f"between {names.of('A')} and {names.of('B')} no difference is shown"
    return (
        f"{verdict} (trials that only one got: {counts} for A and B, exact test p "
        f"{p_value_text(lean.p_exact)}); how far apart the two are cannot be told: {found.reason}"
    )


def _is_one_sided_verdict(found: NoThreshold) -> bool:
    assert found.limit is not None
    return found.limit >= 0.1 if found.bound == "above" else found.limit <= -0.1


def false_words(false: FalseDuel) -> str:
    """Whether one of the two reports more that nobody sent."""
    counts = false.counts
    held = f"A {whole(counts.n_a)}, B {whole(counts.n_b)} of {counted(counts.n, 'slot')}"
    difference = false.difference
    if isinstance(difference, NoEvidence):
        return "nothing can be said of false decodes"
    interval = difference.interval
    sure = confidence_word(interval.confidence)
    in_100 = replace(interval, low=100.0 * interval.low, high=100.0 * interval.high)
    if interval.holds(0.0):
        return (
            f"no difference in false decodes is shown ({held}; one larger than "
            f"±{rounded_up(in_100, 1)} in 100 is ruled out, {sure})"
        )
    more = "B" if difference.value > 0.0 else "A"
    return f"{more} has more false decodes ({held}; {sizes(in_100, 1)} more in 100, {sure})"


def seconds_text(seconds: float) -> str:
    """A short time, three digits."""
    return f"{1000.0 * seconds:.3g} ms" if seconds < 0.9995 else f"{seconds:.3g} s"


def cost_words(cost: CostDuel) -> str:
    """Which one takes longer for a slot."""
    ratio, what = cost.ratio, cost.kind
    times = f"A {seconds_text(cost.a_s)}, B {seconds_text(cost.b_s)} a slot"
    if ratio is None or ratio < SAME_COST:
        return f"both take about the same {what} ({times})"
    dearer = "A" if cost.a_s > cost.b_s else "B"
    return f"{dearer} takes {number(ratio, 1)} times the {what} ({times})"
