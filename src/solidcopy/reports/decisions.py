"""Who decodes more, in a campaign that runs until that is decided."""

import math
from collections.abc import Iterator
from typing import Literal

from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.stop import CurvePlaces, duellists
from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.statistics.sequential import Lead, count_discordant, decide

BETTER: dict[Lead, Literal["first", "second"] | None] = {
    Lead.A_BETTER: "first",
    Lead.B_BETTER: "second",
    Lead.OPEN: None,
}


def decisions(reader: JournalReader) -> tuple[DecisionFacts, ...]:
    """One for each pair that the campaign decides between, in the plan's order; none of a plan with
    another stop rule."""
    return tuple(_decisions(reader))


def _decisions(reader: JournalReader) -> Iterator[DecisionFacts]:
    plan = reader.plan
    if plan.stop.until is None:
        return
    places = range(len(plan.conditions)) if len(plan.receivers) == 2 else range(1)
    for condition in places:
        yield decision_between(reader, duellists(plan, (condition, 0)))


def decision_between(reader: JournalReader, pair: tuple[CurvePlaces, CurvePlaces]) -> DecisionFacts:
    """The verdict on two curves by all trials so far, under the plan's risk.

    Args:
        reader: of a campaign that runs until it is decided.
        pair: (condition, receiver) of the first and of the second.
    """
    plan, (first, second) = reader.plan, pair
    paired = reader.paired(first, second)
    found = decide(*count_discordant(paired), risk=plan.stop.risk)
    conditions = [plan.conditions[place].name for place, _ in pair]
    receivers = [plan.receivers[place].name for _, place in pair]
    is_of_receivers = first[0] == second[0]
    names, within = (receivers, conditions[0]) if is_of_receivers else (conditions, receivers[0])
    return DecisionFacts(
        compares="receiver" if is_of_receivers else "condition",
        first=names[0],
        second=names[1],
        within=within,
        n_pairs=paired.n_pairs,
        n_per_point=max((point.n_both for point in paired.points), default=0),
        n_only_first=found.n_only_a,
        n_only_second=found.n_only_b,
        n_together=math.lcm(*paired.n_together),
        better=BETTER[found.lead],
        risk=found.risk,
        p_value=found.p_value,
        share_first=found.share_a,
        most_per_point=plan.stop.at_most,
        is_final=all(reader.is_finished(*curve) for curve in pair),
    )
