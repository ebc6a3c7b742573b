"""When a curve has enough trials, and at which axis values.

Decisions look at whole blocks of trial indexes only: the first n trials of a point, all of them in
the journal. So they depend on what the journal holds and on nothing else; neither the number of
workers nor an interruption nor quick trials can move them.

Precision is judged after 50 trials a point, and then each time when at least a tenth more has
been added, in whole blocks of 50. Fewer looks cost little work and keep small the bias that
stopping at a lucky moment brings (it makes intervals a little too short). Which of two is better is
judged after ten trials a point already: that judgement holds at any look (`statistics.sequential`).
"""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from solidcopy.campaigns.placing import placed
from solidcopy.campaigns.precision import is_precise, key_of
from solidcopy.statistics.points import Points
from solidcopy.statistics.sequential import Lead, count_discordant, decide
from solidcopy.statistics.sides import Side, in_pairs
from solidcopy.trials.curve_shape import curve_shape
from solidcopy.trials.plan import Plan

BLOCK_TRIALS = 50
"""Trials of one point in a block; also the order of work: blocks are run one after another."""

DUEL_BLOCK_TRIALS = 10
"""The same where it is judged which side is better."""

CurvePlaces = tuple[int, int]
"""0-based places of a condition and a receiver in the plan."""

First = Callable[[CurvePlaces, Mapping[float, int]], Side | None]
"""Curve, number of trials at each axis value -> outcomes of the first so many trials of each; None
if some of them are not in the journal yet."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Trials that a stop rule asks for, as far as can be known.

    Args:
        n_at: trials at each axis value of the plan.
        is_final: whether no more will be asked for, whatever these bring.
    """

    n_at: dict[float, int]
    is_final: bool


@dataclass(frozen=True, slots=True)
class Refused:
    """Up to which look the precision asked for is known not to be reached.

    Args:
        n: trials at each point at that look.
        key: of the counts at that look (`precision.key_of`). Outcomes are only ever added, and a
            failure that was retried changes the counts of all later looks: so the same key says
            that all looks before it were the same too.
    """

    n: int
    key: str


def asked_of(
    plan: Plan, curve: CurvePlaces, first: First, *, refused: Refused | None = None
) -> Asked:
    """What the plan's rule asks for of one curve, by what the journal holds.

    The curve is finished when that is final and all there.

    Args:
        refused: what an earlier run found out; looks up to there are left out if it still holds.
    """
    rule, values = plan.stop, plan.axis.points()
    if rule.trials_per_point is not None:
        return Asked(dict.fromkeys(values, rule.trials_per_point), True)
    if rule.until is not None:
        n, is_final = _asked_of_duel(plan, curve, first)
        return Asked(dict.fromkeys(values, n), is_final)
    shape = curve_shape(plan, curve[0])

    def points_of_first(n_at: Mapping[float, int]) -> Points | None:
        side = first(curve, n_at)
        return None if side is None else in_pairs(side, side).side_a()

    if plan.axis.placement == "adaptive":
        return Asked(*placed(values, rule, shape, points_of_first))

    def is_enough(n: int) -> bool | None:
        points = points_of_first(dict.fromkeys(values, n))
        return None if points is None else is_precise(points, rule, shape)

    n_known = 0
    if refused is not None and refused.n < rule.at_most:
        points = points_of_first(dict.fromkeys(values, refused.n))
        if points is not None and key_of(points, rule, shape) == refused.key:
            n_known = refused.n
    n, is_final = n_asked((n for n in looks(rule.at_most) if n > n_known), is_enough)
    return Asked(dict.fromkeys(values, n), is_final)


def refused_of(plan: Plan, curve: CurvePlaces, first: First, asked: Asked) -> Refused | None:
    """What `asked_of` found out by many fits, to be kept; None if there is nothing to keep."""
    rule, values = plan.stop, plan.axis.points()
    if rule.threshold_half_width_db is None or plan.axis.placement == "adaptive":
        return None
    before = [n for n in looks(rule.at_most) if n < asked.n_at[values[0]]]
    side = first(curve, dict.fromkeys(values, before[-1])) if before else None
    if side is None:
        return None
    key = key_of(in_pairs(side, side).side_a(), rule, curve_shape(plan, curve[0]))
    return Refused(before[-1], key)


def _asked_of_duel(plan: Plan, curve: CurvePlaces, first: First) -> tuple[int, bool]:
    """Trials a point of the pair to which a curve belongs; groups of trials are never cut."""
    sides, rule = duellists(plan, curve), plan.stop
    n_row = math.lcm(*(curve_shape(plan, condition).n_together for condition, _ in sides))

    def is_decided(n: int) -> bool | None:
        n_at = dict.fromkeys(plan.axis.points(), n)
        a, b = (first(side, n_at) for side in sides)
        if a is None or b is None:
            return None
        return decide(*count_discordant(in_pairs(a, b)), risk=rule.risk).lead is not Lead.OPEN

    step = -(-DUEL_BLOCK_TRIALS // n_row) * n_row
    return n_asked(looks(rule.at_most, step), is_decided)


def n_asked(looks_at: Iterator[int], is_enough: Callable[[int], bool | None]) -> tuple[int, bool]:
    """Trials at each point, and whether that is the last word.

    Args:
        looks_at: numbers of trials at a point after which is judged; the last one is the limit.
        is_enough: judgement of the first n trials of every point; None if some are missing yet.
    """
    n = 0
    for n in looks_at:
        enough = is_enough(n)
        if enough or enough is None:
            return n, bool(enough)
    return n, True


def looks(at_most: int, step: int = BLOCK_TRIALS) -> Iterator[int]:
    """Numbers of trials at a point after which is judged; the last is `at_most`."""
    n = step
    while n < at_most:
        yield n
        n_blocks_more = max(1, -(-n // (10 * step)))
        n += n_blocks_more * step
    yield at_most


def duellists(plan: Plan, curve: CurvePlaces) -> tuple[CurvePlaces, CurvePlaces]:
    """The pair to which a curve belongs where a plan runs until it is decided who is better: the
    two receivers under its condition, or the two conditions for its receiver.
    """
    condition, receiver = curve
    if len(plan.receivers) == 2:
        return (condition, 0), (condition, 1)
    return (0, receiver), (1, receiver)
