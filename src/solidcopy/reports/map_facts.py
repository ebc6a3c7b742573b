"""Maps of a campaign: which conditions belong together, row by row, and the rest without them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from solidcopy.reports.axis import field_words
from solidcopy.reports.describe import condition_facts
from solidcopy.reports.facts import CampaignFacts, MapFacts, MapPlace
from solidcopy.reports.measured import (
    CurveFacts,
    Estimate,
    FailureFacts,
    FalseFacts,
    PenaltyFacts,
)
from solidcopy.statistics.evidence import NoEvidence, NoThreshold
from solidcopy.trials.condition import Condition
from solidcopy.trials.plan import Plan

MIDDLE_KINDS = ("band-noise",)
"""Their offset counts from the middle of the wanted signal, others' from its lowest tone."""

HALF, MOST = 0.5, 0.9


def map_facts(plan: Plan, width_hz: float) -> Iterator[MapFacts]:
    """One for each condition that says "map", in the plan's order.

    Args:
        plan: expanded, as every plan is.
        width_hz: of the wanted signal.
    """
    groups: dict[str, list[Condition]] = {}
    for condition in plan.conditions:
        if condition.mapped is not None:
            groups.setdefault(condition.mapped.condition, []).append(condition)
    for name, members in groups.items():
        mapped = members[0].mapped
        assert mapped is not None
        owner, field = members[0].label_of(mapped.path)
        quantity, unit, _ = field_words(owner, field)
        yield MapFacts(
            condition=name,
            owner=owner,
            field=field,
            quantity=quantity,
            unit=unit,
            parts=condition_facts(plan, members[0].as_written()).parts,
            places=tuple(
                MapPlace(member.mapped.value, member.name)
                for member in members
                if member.mapped is not None
            ),
            signal_band=_signal_band(owner, field, width_hz),
        )


def _signal_band(owner: str, field: str, width_hz: float) -> tuple[float, float] | None:
    """Where the wanted signal lies on an axis of offsets, Hz; None on other axes."""
    if field != "offset_hz":
        return None
    start_hz = -width_hz / 2.0 if owner in MIDDLE_KINDS else 0.0
    return start_hz, start_hz + width_hz


def first_of(plan: Plan, place: int) -> int | None:
    """0-based place of the condition that another is compared with; None if with none.

    That is the plan's first condition. If that one is itself on a map, a value of the map is no
    baseline; only a condition of another map is compared, with the first map's at its own value.
    """
    first, this = plan.conditions[0].mapped, plan.conditions[place].mapped
    if first is None:
        return 0 if place else None
    if this is None or this.condition == first.condition or this.field != first.field:
        return None
    for other, condition in enumerate(plan.conditions):
        there = condition.mapped
        if there is not None and (there.condition, there.value) == (first.condition, this.value):
            return other
    return None


@dataclass(frozen=True, slots=True)
class MapRow:
    """One value of a map, heard by one receiver."""

    value: float
    curve: CurveFacts
    penalty: PenaltyFacts | None
    """Against the first condition, at 50 %."""
    false_sent: int
    false_silent: int

    @property
    def half(self) -> Estimate | NoThreshold:
        """Axis value at which half of the messages get through."""
        return self.curve.threshold(HALF).at

    @property
    def most(self) -> Estimate | NoThreshold:
        """Axis value at which 90 % get through."""
        return self.curve.threshold(MOST).at


def map_rows(facts: CampaignFacts, the_map: MapFacts, receiver: str) -> tuple[MapRow, ...]:
    """The map along its values, as one receiver heard it."""
    penalties = {
        penalty.name: penalty
        for penalty in facts.penalties
        if (penalty.compares, penalty.within, penalty.p) == ("condition", receiver, HALF)
    }
    n_false = {
        (false.condition, false.arm): false.n_false_decodes
        for false in facts.false_decodes
        if false.receiver == receiver
    }
    return tuple(
        MapRow(
            value=place.value,
            curve=facts.curve(place.condition, receiver),
            penalty=penalties.get(place.condition),
            false_sent=n_false.get((place.condition, "sent"), 0),
            false_silent=n_false.get((place.condition, "nothing-sent"), 0),
        )
        for place in the_map.places
    )


def hardness(facts: CampaignFacts, row: MapRow) -> float | None:
    """How hard a value of the map is, for ordering: farther along the axis is harder.

    Infinite where the threshold lies beyond the tested axis; None where nothing can be said.
    """
    if facts.axis.sense == "other":
        return None
    sign = -1.0 if facts.axis.sense == "interference" else 1.0
    if isinstance(row.half, Estimate):
        return sign * row.half.value
    if row.half.bound is None:
        return None
    return sign * (float("inf") if row.half.bound == "above" else -float("inf"))


def hardest(facts: CampaignFacts, rows: Sequence[MapRow]) -> MapRow | None:
    """The value at which most is needed; None if no row can be placed."""
    placed = [(hard, row) for row in rows if (hard := hardness(facts, row)) is not None]
    return max(placed, key=lambda pair: pair[0])[1] if placed else None


def folded(facts: CampaignFacts) -> CampaignFacts:
    """The facts without mapped conditions, which have a section of their own.

    Their levels, false decodes and failures stay, under the name of their map's condition.
    """
    if not facts.maps:
        return facts
    name_of = {place.condition: a_map.condition for a_map in facts.maps for place in a_map.places}
    return replace(
        facts,
        conditions=tuple(c for c in facts.conditions if c.name not in name_of),
        curves=tuple(c for c in facts.curves if c.condition not in name_of),
        penalties=tuple(
            p for p in facts.penalties if p.name not in name_of and p.within not in name_of
        ),
        decisions=tuple(d for d in facts.decisions if d.within not in name_of),
        elapsed=tuple(e for e in facts.elapsed if e.condition not in name_of),
        fades=tuple(f for f in facts.fades if f.condition not in name_of),
        levels=tuple(
            replace(level, condition=name_of.get(level.condition, level.condition))
            for level in facts.levels
        ),
        false_decodes=tuple(_merged_false(facts, name_of)),
        failures=tuple(_merged_failures(facts, name_of)),
    )


def _merged_false(facts: CampaignFacts, name_of: dict[str, str]) -> Iterator[FalseFacts]:
    """Counts of a map together. All its values meet the same noise, so a share has no interval."""
    groups: dict[tuple[str, str, str], list[FalseFacts]] = {}
    for false in facts.false_decodes:
        key = (name_of.get(false.condition, false.condition), false.receiver, false.arm)
        groups.setdefault(key, []).append(false)
    for (condition, _, _), members in groups.items():
        first = members[0]
        if first.condition == condition:
            yield first
            continue
        yield FalseFacts(
            condition=condition,
            receiver=first.receiver,
            arm=first.arm,
            n_trials=sum(false.n_trials for false in members),
            n_with_false=sum(false.n_with_false for false in members),
            n_false_decodes=sum(false.n_false_decodes for false in members),
            p_false=NoEvidence("the values of a map meet the same noise"),
            upper_bound_95=None,
        )


def _merged_failures(facts: CampaignFacts, name_of: dict[str, str]) -> Iterator[FailureFacts]:
    counts: dict[tuple[str, str, str], int] = {}
    for failure in facts.failures:
        name = name_of.get(failure.condition, failure.condition)
        key = (name, failure.receiver, failure.reason)
        counts[key] = counts.get(key, 0) + failure.n_trials
    for (condition, receiver, reason), n_trials in counts.items():
        yield FailureFacts(condition, receiver, reason, n_trials)
