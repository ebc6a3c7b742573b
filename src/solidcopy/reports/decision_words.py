"""Who decodes more, in words: decided, not yet, or not within the limit."""

from collections.abc import Sequence

from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import (
    capital,
    counted,
    number,
    p_value_text,
    percent,
    plain,
    quoted,
    whole,
)
from solidcopy.statistics.evidence import NoEvidence, NoThreshold

AFTER_A_STOP = (
    "The interval in dB is an ordinary one: if a campaign stops once it is decided and the true "
    "difference is small, it holds the truth a bit less often (at the 50 % threshold, 0 and 0.1 dB "
    "apart, in 93.2 to 93.7 % of 2000 simulated campaigns instead of 95 %)."
)
"""Measured by tests/statistical/test_coverage_table.py; see docs/explanation/statistics.md."""

STILL_ACROSS = (
    "That the interval in dB still holds 0 is no contradiction: it asks about the 50 % point, the "
    "decision about all trials."
)

STILL_OPEN = (
    "That an interval in dB leaves out 0 without a verdict is no contradiction: it supposes a "
    "number of trials fixed beforehand, the verdict allows for every look; trust the verdict."
)

MOST_SENTENCES = 6
"""Verdicts told one by one; more of them are counted."""


def decision_words(decision: DecisionFacts, first: str, second: str) -> str:
    """Which side is better, at what risk, and after how many trials; no full stop at the end.

    Args:
        decision: the verdict.
        first, second: what the two are called in the sentence.
    """
    return (
        f"{verdict_words(decision, first, second)} ({evidence_words(decision, first, second)}; "
        f"{risk_words(decision)})"
    )


def risk_words(decision: DecisionFacts) -> str:
    """At what risk a side is called better."""
    risk = plain(100.0 * decision.risk)
    return f"risk {risk} % of calling one better that is not, however often one looks"


def verdict_words(decision: DecisionFacts, first: str, second: str) -> str:
    """Which side is better, not yet, or not within the limit.

    Args:
        decision, first, second: as of `decision_words`.
    """
    if decision.better is not None:
        better, other = (first, second) if decision.better == "first" else (second, first)
        if decision.compares == "condition":
            return f"decided: more messages get through with {better} than with {other}"
        return f"decided: {better} decodes more than {other}"
    whether = f"whether {first} or {second} decodes more"
    if decision.compares == "condition":
        whether = f"whether more messages get through with {first} or with {second}"
    if decision.is_final:
        return (
            f"not decided at the limit of {counted(decision.most_per_point, 'trial')} a point: "
            f"{whether} is not shown, nor that they are equal"
        )
    return f"not decided yet {whether}"


def evidence_words(decision: DecisionFacts, first: str, second: str) -> str:
    """Trials, and those that one side alone decoded."""
    by = "by" if decision.compares == "receiver" else "with"
    what = f"decoded {by} one alone"
    if decision.n_together > 1:
        what = f"groups of {decision.n_together} trials of which more were decoded {by} one alone"
    return (
        f"{counted(decision.n_pairs, 'trial')} that both answered, {whole(decision.n_per_point)} a "
        f"point; {what}: {whole(decision.n_only_first)} {by} {first}, "
        f"{whole(decision.n_only_second)} {by} {second}"
    )


def decision_sentence(decision: DecisionFacts, *, is_only: bool) -> str:
    """The verdict with the sides' names, and with what they share unless it is the only one."""
    names = _names(decision)
    words = decision_words(decision, *names)
    return f"{capital(words)}." if is_only else f"{quoted(decision.within)}: {words}."


def decision_sentences(decisions: Sequence[DecisionFacts]) -> list[str]:
    """One for each verdict; of many, how many of each kind."""
    if len(decisions) > MOST_SENTENCES:
        return [f"{capital(tally_words(decisions, *_names(decisions[0])))}."]
    return [decision_sentence(d, is_only=len(decisions) == 1) for d in decisions]


def _names(decision: DecisionFacts) -> tuple[str, str]:
    return quoted(decision.first), quoted(decision.second)


def tally_words(decisions: Sequence[DecisionFacts], first: str, second: str) -> str:
    """Many verdicts on the same two counted; no full stop at the end."""
    n_first, n_second = (
        sum(decision.better == side for decision in decisions) for side in ("first", "second")
    )
    n_open = len(decisions) - n_first - n_second
    return (
        f"{first} decodes more at {whole(n_first)} of {whole(len(decisions))}, {second} at "
        f"{whole(n_second)}, not decided at {whole(n_open)} (each for itself, risk "
        f"{plain(100.0 * decisions[0].risk)} %, however often one looks)"
    )


def map_decision_sentences(facts: CampaignFacts) -> list[str]:
    """One for each map whose values were each decided between the two receivers."""
    said = []
    for a_map in facts.maps:
        names = {place.condition for place in a_map.places}
        own = [d for d in facts.decisions if d.compares == "receiver" and d.within in names]
        if own:
            words = tally_words(own, *_names(own[0]))
            said.append(f"{quoted(a_map.condition)}, values of the map: {words}.")
    return said


def doubts_after_a_stop(facts: CampaignFacts) -> list[str]:
    """What intervals in dB are worth in a campaign that stops once decided."""
    figures = {(p.compares, p.name, p.within): p.shift for p in facts.penalties if p.p == 0.5}
    return interval_doubts(
        [
            (decision, figures.get((decision.compares, decision.second, decision.within)))
            for decision in facts.decisions
        ]
    )


def interval_doubts(
    pairs: Sequence[tuple[DecisionFacts, Estimate | NoThreshold | None]],
) -> list[str]:
    """What intervals beside verdicts are worth, and where the two seem to disagree.

    Args:
        pairs: each verdict with the difference in dB of the same two, if there is one.
    """
    there = [(decision, found) for decision, found in pairs if isinstance(found, Estimate)]
    states = {(d.better is not None, found.interval.holds(0.0)) for d, found in there}
    said = [STILL_ACROSS] if (True, True) in states else []
    said += [STILL_OPEN] if (False, False) in states else []
    return [*said, AFTER_A_STOP] if there else []


def decisions_sheet(facts: CampaignFacts) -> Sheet | None:
    """Every verdict with what it rests on; None of a campaign with another stop rule."""
    if not facts.decisions:
        return None
    risk = plain(100.0 * facts.decisions[0].risk)
    return Sheet(
        "Verdicts that hold at any look",
        (
            "first",
            "second",
            "heard by, or under",
            "verdict",
            "trials a point",
            "pairs",
            "only the first",
            "only the second",
            "p at any look",
            "first's share of one-sided trials",
        ),
        tuple(_row(decision) for decision in facts.decisions),
        f"A side is called better once p falls to {risk} % or below. It may be looked at after "
        "every trial: with no more than that risk a side is ever called better that is not. Where "
        "trials share their fading, a group counts once, for the side that alone decoded more of "
        f"it. The share's interval ({plain(100.0 - 100.0 * facts.decisions[0].risk)} %) holds at "
        "all looks at once.",
        n_heads=2,
    )


def _row(decision: DecisionFacts) -> tuple[str, ...]:
    verdict = "not decided yet"
    if decision.better is not None:
        better = decision.first if decision.better == "first" else decision.second
        verdict = f"decided: {better}"
    elif decision.is_final:
        verdict = f"not decided at the limit of {whole(decision.most_per_point)} a point"
    share = decision.share_first
    return (
        decision.first,
        decision.second,
        decision.within,
        verdict,
        whole(decision.n_per_point),
        whole(decision.n_pairs),
        whole(decision.n_only_first),
        whole(decision.n_only_second),
        p_value_text(decision.p_value).removeprefix("= "),
        DASH
        if isinstance(share, NoEvidence)
        else f"{number(100.0 * share.low, 0)} to {percent(share.high)}",
    )
