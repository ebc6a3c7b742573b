"""The sentences under the headline of a duel."""

from solidcopy.reports.decision_words import evidence_words, interval_doubts, verdict_words
from solidcopy.reports.duel_facts import ArmsDuel, ConditionDuel, DuelFacts, SideBySide
from solidcopy.reports.duel_shifts import mean_estimate
from solidcopy.reports.duel_words import (
    Letter,
    Names,
    difference_words,
    rounded_up,
    sizes,
)
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import (
    confidence_word,
    counted,
    number,
    p_value_text,
    places_of,
    quoted,
    signed,
    span,
    whole,
)
from solidcopy.statistics.evidence import NoEvidence, NoThreshold

MOST_CONDITIONS = 12
"""Conditions that are told one by one."""

MOST_ARMS = 4
"""Conditions with a twin that are told one by one."""


def supports(facts: DuelFacts, names: Names) -> list[str]:
    """Sentences under the headline."""
    is_mean = len(facts.judged()) > 1  # else the headline says it of the only one
    said = [
        _of_condition(facts, condition, names)
        for condition in facts.conditions
        if is_mean or condition.is_twin
    ]
    if len(said) > MOST_CONDITIONS:
        said = [f"Each of the {len(said)} conditions for itself stands in the table of the page."]
    said += _after_a_stop(facts)
    said.append(pairs_words(facts.overall))
    said += _snr_words(facts.overall)
    said += _failure_words(facts.overall)
    said += arms_sentences(facts, names)
    if not facts.is_finished:
        said.append(
            f"The campaign is not finished: {whole(facts.n_done)} of at most "
            f"{whole(facts.n_planned)} outcomes of the two are in."
        )
    return said


def _of_condition(facts: DuelFacts, condition: ConditionDuel, names: Names) -> str:
    words = difference_words(facts, condition.sides, names, is_tied=condition.is_tied)
    decision = condition.decision
    if decision is not None:
        verdict = verdict_words(decision, names.of("A"), names.of("B"))
        evidence, p_value = evidence_words(decision, "A", "B"), p_value_text(decision.p_value)
        words = f"{verdict} ({evidence}; p {p_value} at any look); {words}"
    return f"{quoted(condition.name)}: {words}."


def _after_a_stop(facts: DuelFacts) -> list[str]:
    """What intervals and tests are worth in a campaign that stops once decided."""
    decisions = facts.decisions()
    if not decisions:
        return []
    said = []
    if len(decisions) == 1:
        (decision,) = decisions
        said.append(
            f"The verdict rests on {evidence_words(decision, 'A', 'B')} (p "
            f"{p_value_text(decision.p_value)}, which holds at any look; the p-values below "
            "suppose a number of trials fixed beforehand)."
        )
    return said + interval_doubts(
        [(c.decision, c.sides.difference) for c in facts.judged() if c.decision is not None]
    )


def pairs_words(sides: SideBySide) -> str:
    """Right by both, by one only, by neither, and the exact test."""
    counts, lean = sides.lean.counts, sides.lean
    text = (
        f"Of {counted(counts.n, 'trial')} that both answered, both got {whole(counts.n_both)}, "
        f"only A {whole(counts.n_only_a)}, only B {whole(counts.n_only_b)}, neither "
        f"{whole(counts.n_neither)}"
    )
    test = "McNemar test"
    if lean.unit != "trial":
        test = "test"
        text += f"; each {lean.unit}, taken as one: {lean.wins.n_a} for A, {lean.wins.n_b} for B"
    return (
        f"{text} (exact {test}: p {p_value_text(lean.p_exact)}; mid-p "
        f"{p_value_text(lean.p_mid).removeprefix('= ')})."
    )


def _snr_words(sides: SideBySide) -> list[str]:
    snr = sides.snr
    found = snr.difference_db
    if isinstance(found, NoEvidence):
        return []
    start = f"On the {counted(snr.n_trials, 'trial')} that both decoded, "
    bias = ""
    if snr.bias_a_db is not None and snr.bias_b_db is not None:
        off = ", ".join(
            f"{letter} {signed(bias_db, 2)} dB"
            for letter, bias_db in (("A", snr.bias_a_db), ("B", snr.bias_b_db))
        )
        bias = f"; mean of reported less asked: {off}"
    interval = found.interval
    if interval.low == interval.high == 0.0:
        return [f"{start}both report the same SNR every time{bias}."]
    places = max(2, places_of(interval))
    ends = span(interval.low, interval.high, places)
    if interval.holds(0.0):
        text = f"no difference in the reported SNR is shown (B less A: {ends} dB, 95 %)"
    else:
        higher, lower = ("B", "A") if found.value > 0.0 else ("A", "B")
        size = number(abs(found.value), places)
        text = f"{higher} reports {size} dB more SNR than {lower} (B less A: {ends} dB, 95 %)"
    return [f"{start}{text}{bias}."]


def _failure_words(sides: SideBySide) -> list[str]:
    failures = sides.failures.counts
    if not failures.n_a + failures.n_b:
        return []
    return [
        f"No answer came in {counted(failures.n_a, 'trial')} from A and in {whole(failures.n_b)} "
        f"from B, of {whole(failures.n)}; pairs without both answers are left out."
    ]


def arms_sentences(facts: DuelFacts, names: Names) -> list[str]:
    """One for each condition with a twin; of many, as on a map, their mean, and who stands out."""
    if len(facts.arms) <= MOST_ARMS:
        return [arms_words(facts, arms, names) for arms in facts.arms]
    there = [arms for arms in facts.arms if isinstance(arms.extra_b, Estimate)]
    apart = [
        a for a in there if isinstance(a.extra_b, Estimate) and not a.extra_b.interval.holds(0)
    ]
    if not there:
        return [arms_words(facts, facts.arms[0], names)]
    mean = ArmsDuel("", "", *(_mean(there, figure) for figure in ("gain_a", "gain_b", "extra_b")))
    start = f"With the same message every time, mean over {len(there)} conditions"
    said = _arms_said(facts, start, mean, names)
    return [
        f"{said} Of the {len(there)}, {len(apart)} show a difference each for itself, where about "
        f"{round(0.05 * len(there))} would by chance alone."
    ]


def _mean(arms: list[ArmsDuel], figure: str) -> Estimate | NoThreshold:
    return mean_estimate([(one.random, getattr(one, figure)) for one in arms])


def arms_words(facts: DuelFacts, arms: ArmsDuel, names: Names) -> str:
    """Whether one of the two gains more than the other from the same message every time."""
    start = f"With the same message every time ({quoted(arms.same)} beside {quoted(arms.random)})"
    return _arms_said(facts, start, arms, names)


def _arms_said(facts: DuelFacts, start: str, arms: ArmsDuel, names: Names) -> str:
    extra, unit = arms.extra_b, facts.axis.step_unit
    if isinstance(extra, NoThreshold):
        return f"{start}, no gain from remembering can be told: {extra.reason}."
    interval = extra.interval
    sure, places = confidence_word(interval.confidence), places_of(interval)
    if interval.holds(0.0):
        largest = f"{rounded_up(interval)} {unit}".strip()
        return (
            f"{start}, neither is shown to gain more than the other; one that gains more than "
            f"{largest} by remembering is ruled out ({sure})."
        )
    gainer: Letter = "B" if extra.value > 0.0 else "A"
    other: Letter = "A" if gainer == "B" else "B"
    size = f"{number(abs(extra.value), places)} {unit}".strip()
    gains = _gains(arms, unit)
    return (
        f"{start}, {names.of(gainer)} gains {size} more than {names.of(other)} ({sure}: "
        f"{sizes(interval, places)}{gains}): it may be remembering."
    )


def _gains(arms: ArmsDuel, unit: str) -> str:
    if not isinstance(arms.gain_a, Estimate) or not isinstance(arms.gain_b, Estimate):
        return ""
    a, b = (number(gain.value, 2) for gain in (arms.gain_a, arms.gain_b))
    return f"; A gains {a} {unit} by it, B {b} {unit}"
