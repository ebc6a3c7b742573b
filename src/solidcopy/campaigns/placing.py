"""Adaptive placement: rounds of trials along one curve, each placed by all those before it.

What has been tried is worked out again from the first round on, so the same journal gives the same
rounds: after a kill, with other numbers of workers, and where trials of an earlier plan are there
already.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from solidcopy.campaigns.precision import CountsKey, is_precise
from solidcopy.statistics.placement import Goal, belief_of, first_round, next_round
from solidcopy.statistics.points import Points
from solidcopy.trials.curve_shape import CurveShape
from solidcopy.trials.stop_rule import StopRule

HOPE = 1.3
"""The interval is worked out once the posterior's own is at most so many times as long as asked:
it costs much more than a posterior."""

NORMAL_95 = 1.96


@dataclass(frozen=True, slots=True)
class Round:
    """Trials to come at each axis value, in the order of a rising curve.

    Args:
        chosen: trials, (n_values,).
        may_be_last: whether the precision asked for may be reached already.
    """

    chosen: tuple[int, ...]
    may_be_last: bool

    def within(self, n_left: int) -> tuple[int, ...]:
        """The trials, cut off where the limit of the curve is reached."""
        cut = []
        for n in self.chosen:
            cut.append(min(n, n_left))
            n_left -= cut[-1]
        return tuple(cut)


def placed(
    values: tuple[float, ...],
    rule: StopRule,
    shape: CurveShape,
    points_of_first: Callable[[Mapping[float, int]], Points | None],
) -> tuple[dict[float, int], bool]:
    """Trials at each axis value that adaptive placement asks for, as far as can be known.

    Args:
        values: of the axis, ascending.
        rule: asks for a half width; `at_most` limits the trials of the curve.
        shape: of the curve.
        points_of_first: trials at each value -> counts of the first so many of each, or None if
            some of them are not in the journal yet.
    Returns: the trials, and whether no more will be asked for: precision reached, limit reached, or
        the threshold certainly off the axis.
    """
    n_at = dict.fromkeys(values, 0)
    chosen = Round(tuple(first_round(len(values), n_together=shape.n_together)), False)
    while True:
        added = chosen.within(rule.at_most - sum(n_at.values()))
        for value, n in zip(values, reversed(added) if shape.is_falling else added, strict=True):
            n_at[value] += n
        points = points_of_first(n_at)
        if points is None:
            return n_at, False
        found = _next_round(CountsKey.of(shape.rising(points)), rule, shape)
        is_reached = found is None or (found.may_be_last and is_precise(points, rule, shape))
        if found is None or is_reached or sum(n_at.values()) >= rule.at_most:
            return n_at, True
        chosen = found


@lru_cache(maxsize=4096)
def _next_round(counts: CountsKey, rule: StopRule, shape: CurveShape) -> Round | None:
    """The round after these counts; None where the threshold lies off the axis, so that no place
    on it would help.
    """
    assert rule.threshold_half_width_db is not None
    belief = belief_of(counts.points(), Goal(rule.p, shape.form))
    if belief.is_outside:
        return None
    chosen = next_round(belief, sum(counts.n_scored), n_together=shape.n_together)
    is_near = NORMAL_95 * belief.spread <= HOPE * rule.threshold_half_width_db
    return Round(tuple(chosen), is_near and belief.is_scale_known)
