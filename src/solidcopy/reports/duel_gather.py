"""Facts of a duel from a campaign's journal."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from solidcopy.campaigns.journal import JournalReader
from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.curves import NO_RISE, Counted, curve_facts
from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.reports.decisions import decision_between
from solidcopy.reports.describe import condition_facts
from solidcopy.reports.duel_arms import arm_places, arms_duels
from solidcopy.reports.duel_facts import (
    ConditionDuel,
    DuelFacts,
    Failures,
    FalseDuel,
    Needed,
    SideBySide,
    SnrDuel,
)
from solidcopy.reports.duel_shifts import mean_estimate, paired_shift
from solidcopy.reports.duel_sides import (
    Heard,
    aligned,
    cost_duel,
    digest_of,
    failures,
    false_duel,
    lean_facts,
    pairs_at,
    share_of,
    snr_duel,
)
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.fading import curve_form
from solidcopy.reports.gather import precision_of, reading_at
from solidcopy.reports.measured import CurveFacts, Estimate
from solidcopy.statistics.duel import paired_counts, smallest_after_holm
from solidcopy.statistics.evidence import NoEvidence, NoThreshold
from solidcopy.statistics.paired_rates import PairedCounts
from solidcopy.statistics.planning import trials_to_find
from solidcopy.trials.expand import nothing_sent_value
from solidcopy.trials.together import n_together
from solidcopy.trials.trial import NOTHING_SENT, SENT

DIFFERENCE_DB = 0.2
"""Smallest difference that matters, unless another is named."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Who meets whom, and what difference matters.

    Args:
        places: of A and B among the plan's receivers.
        difference: smallest one that matters, in the axis' unit; None: `DIFFERENCE_DB` on an axis
            in dB.
    """

    places: tuple[int, int]
    difference: float | None = None


def gather_duel(reader: JournalReader, asked: Asked) -> DuelFacts:
    """All facts of a duel as the journal stands now, finished or not."""
    with reader.snapshot():
        return _gathered(reader, asked)


def _gathered(reader: JournalReader, asked: Asked) -> DuelFacts:
    plan, axis = reader.plan, axis_facts(reader.plan)
    wanted = asked.difference
    if wanted is None and axis.step_unit == "dB":
        wanted = DIFFERENCE_DB
    asked = replace(asked, difference=wanted)
    heard = [_heard(reader, place, asked) for place in range(len(plan.conditions))]
    twins = {same for _, same in arm_places(plan)}
    conditions = tuple(
        replace(_condition(reader, axis, asked, place, own), is_twin=place in twins)
        for place, own in enumerate(heard)
    )
    judged = [place for place, condition in enumerate(conditions) if not condition.is_twin]
    n_each = plan.limit_per_curve + plan.stop.nothing_sent
    return DuelFacts(
        title=plan.title,
        mode=plan.mode,
        axis=axis,
        conditions=conditions,
        overall=_overall(
            reader, axis, asked, [(heard[place], conditions[place]) for place in judged]
        ),
        arms=tuple(arms_duels(reader, axis, asked.places, conditions)),
        difference_wanted=wanted,
        root_seed=plan.root_seed,
        n_done=sum(answers.n for own in heard for pair in own.all() for answers in pair),
        n_planned=2 * n_each * len(plan.conditions),
        is_finished=all(
            reader.is_finished(place, receiver)
            and reader.false_decodes(place, receiver).nothing_sent.n_trials
            >= plan.stop.nothing_sent
            for place in range(len(plan.conditions))
            for receiver in asked.places
        ),
        digest=digest_of(heard),
    )


def _heard(reader: JournalReader, condition: int, asked: Asked) -> Heard:
    plan = reader.plan
    curves = tuple((condition, place) for place in asked.places)
    paired = reader.paired(*curves)
    sent = {}
    for value in (point.value for point in paired.points):
        sides = []
        for curve in curves:
            place = reader.series_place(*curve, SENT, value)
            sides.append(reader.answers(place, reader.n_counted(*curve, value)))
        sent[value] = aligned(*sides)
    silent = []
    for curve in curves:
        place = reader.series_place(*curve, NOTHING_SENT, nothing_sent_value(plan))
        n = reader.false_decodes(*curve).nothing_sent.n_trials
        silent.append(reader.answers(place, n))
    return Heard(sent, aligned(*silent), paired, n_together(plan.conditions[condition]))


def _condition(
    reader: JournalReader, axis: AxisFacts, asked: Asked, place: int, heard: Heard
) -> ConditionDuel:
    condition = reader.plan.conditions[place]
    points = tuple(
        pairs_at(value, *pair, n_together=heard.n_together) for value, pair in heard.sent.items()
    )
    curves = tuple(_curve(reader, axis, (place, receiver)) for receiver in asked.places)
    form = curve_form(condition, axis)
    shift = paired_shift(heard.paired, axis, (form, form))
    if axis.sense == "other" and any(isinstance(c.line, NoThreshold) for c in curves):
        shift = NO_RISE
    return ConditionDuel(
        name=condition.name,
        messages=condition.sending.message,
        is_twin=False,
        is_tied=condition_facts(reader.plan, condition).has_fixed_ratio,
        n_together=heard.n_together,
        points=points,
        p_smallest=smallest_after_holm([p.p_exact for p in points if p.counts.n_unlike]),
        curve_a=replace(curves[0], receiver="A"),
        curve_b=replace(curves[1], receiver="B"),
        sides=SideBySide(
            lean=lean_facts([heard]),
            difference=shift,
            needed=_needed(reader, axis, asked, shift, paired_counts(heard.paired).n),
            false=false_duel(heard),
            snr=snr_duel(axis, heard),
            cost=cost_duel([heard]),
            failures=failures(heard),
        ),
        decision=_decision(reader, place, asked),
    )


def _decision(reader: JournalReader, place: int, asked: Asked) -> DecisionFacts | None:
    """Of A against B, names left out; None of another stop rule."""
    if reader.plan.stop.until is None or len(reader.plan.receivers) != 2:
        return None
    a, b = ((place, receiver) for receiver in asked.places)
    return replace(decision_between(reader, (a, b)), first="A", second="B")


def _curve(reader: JournalReader, axis: AxisFacts, place: tuple[int, int]) -> CurveFacts:
    counted = Counted(reader.tallies(*place), reading_at(reader, place, axis))
    mode = mode_named(reader.plan.mode).facts
    name = reader.plan.conditions[place[0]].name
    return curve_facts(name, "", counted, axis=axis, mode=mode)


def _overall(
    reader: JournalReader,
    axis: AxisFacts,
    asked: Asked,
    judged: Sequence[tuple[Heard, ConditionDuel]],
) -> SideBySide:
    """All conditions together. They met the same noise, so what is a mean over them is given an
    interval as wide as if they shared all their luck."""
    heard = [own for own, _ in judged]
    sides = [condition.sides for _, condition in judged]
    if len(sides) == 1:
        return sides[0]
    difference = mean_estimate([(c.name, c.sides.difference) for _, c in judged])
    false = sum((own.false.counts for own in sides), PairedCounts())
    snr = [own.snr for own in sides]
    return SideBySide(
        lean=lean_facts(heard),
        difference=difference,
        needed=_needed(reader, axis, asked, difference, sum(s.lean.counts.n for s in sides)),
        false=FalseDuel(
            false,
            share_of(false.n_a, false.n),
            share_of(false.n_b, false.n),
            _mean([own.false.difference for own in sides]),
        ),
        snr=SnrDuel(
            sum(own.n_trials for own in snr),
            _weighed([(own.bias_a_db, own.n_trials) for own in snr]),
            _weighed([(own.bias_b_db, own.n_trials) for own in snr]),
            _mean([own.difference_db for own in snr]),
        ),
        cost=cost_duel(heard),
        failures=Failures(
            sum((own.failures.counts for own in sides), PairedCounts()),
            _mean([own.failures.difference for own in sides]),
        ),
    )


def _mean(found: list[Estimate | NoEvidence]) -> Estimate | NoEvidence:
    """Over the conditions that have a figure."""
    there = [one for one in found if isinstance(one, Estimate)]
    if not there:
        return found[0]
    mean = mean_estimate([("", one) for one in there])
    assert isinstance(mean, Estimate)
    return mean


def _weighed(biases: list[tuple[float | None, int]]) -> float | None:
    known = [(bias, n) for bias, n in biases if bias is not None]
    n_all = sum(n for _, n in known)
    return sum(bias * n for bias, n in known) / n_all if n_all else None


def _needed(
    reader: JournalReader,
    axis: AxisFacts,
    asked: Asked,
    difference: Estimate | NoThreshold,
    n_pairs: int,
) -> Needed | None:
    """None where the difference is decided: it is shown, or all that would matter is ruled out."""
    wanted = asked.difference
    if wanted is None or isinstance(difference, NoThreshold) or n_pairs == 0:
        return None
    interval = difference.interval
    if not interval.holds(0.0) or max(-interval.low, interval.high) <= wanted:
        return None
    n = max(1, trials_to_find(interval, n_pairs, wanted))
    pace = precision_of(reader, axis)
    rate = None if pace is None else pace.seconds_per_trial
    return Needed(wanted, n, None if rate is None else 2 * n * rate)
