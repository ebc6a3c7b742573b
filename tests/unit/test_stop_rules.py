"""When a curve has enough trials: precision, decisions, adaptive placement; without a journal."""

import hashlib
from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy import special

from example_plans import changed, condition
from solidcopy.campaigns.placing import placed
from solidcopy.campaigns.precision import is_precise
from solidcopy.campaigns.stop import BLOCK_TRIALS, Asked, asked_of, duellists, looks, n_asked
from solidcopy.errors import PlanError
from solidcopy.statistics.points import Points
from solidcopy.statistics.sequential import Lead, count_discordant, decide
from solidcopy.statistics.sides import Side, in_pairs
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.trials.curve_shape import CurveShape, curve_shape
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.stop_rule import StopRule

pytestmark = pytest.mark.derived
SHAPE = CurveShape()
TWO = [{"kind": "builtin", "name": "ours"}, {"kind": "builtin", "name": "theirs"}]


def points_of(n: int) -> Points:
    """A curve through 10 %, 50 % and 90 % at −22, −20 and −18."""
    decoded = np.array([round(0.1 * n), round(0.5 * n), round(0.9 * n)])
    return Points(np.array([-22.0, -20.0, -18.0]), decoded, np.full(3, n))


def test_precision_is_reached_at_the_first_look_that_shows_it() -> None:
    rule = StopRule(threshold_half_width_db=0.25)
    n, is_final = n_asked(looks(1000), lambda n: is_precise(points_of(n), rule, SHAPE))
    assert is_final
    threshold, before = read_threshold(points_of(n)), read_threshold(points_of(n - 50))
    assert isinstance(threshold, Threshold) and isinstance(before, Threshold)
    assert threshold.interval.half_width <= 0.25 < before.interval.half_width
    assert 50 < n < 1000


def test_a_missing_block_is_asked_for() -> None:
    assert n_asked(looks(1000), lambda n: False if n < 100 else None) == (100, False)
    assert n_asked(looks(200), lambda _: False) == (200, True)


def test_no_threshold_is_no_precision() -> None:
    none = Points(np.array([-22.0, -20.0]), np.array([0, 0]), np.array([50, 50]))
    assert not is_precise(none, StopRule(threshold_half_width_db=9.0), SHAPE)


def test_precision_is_judged_in_the_form_of_the_report() -> None:
    rule = StopRule(threshold_half_width_db=0.5)
    falling = CurveShape(is_falling=True)
    assert is_precise(points_of(100), rule, SHAPE)
    assert not is_precise(points_of(100), rule, falling)
    assert is_precise(points_of(100).mirrored(), rule, falling)
    # One draw of fading for a message: a long shoulder, which a normal curve does not have.
    values = np.arange(-24.0, 7.0, 2.0)
    share = np.exp(-(10.0 ** ((-19.0 - values) / 10.0)))
    faded = Points(values, np.round(100 * share).astype(np.int64), np.full(values.size, 100))
    widths = []
    for form in ("probit", "faded"):
        found = read_threshold(faded, form=form)
        assert isinstance(found, Threshold)
        widths.append(found.interval.half_width)
    assert abs(widths[0] - widths[1]) > 0.02
    for form, width in zip(("probit", "faded"), widths, strict=True):
        shape = CurveShape(form)
        assert is_precise(faded, StopRule(threshold_half_width_db=width + 1e-6), shape)
        assert not is_precise(faded, StopRule(threshold_half_width_db=width - 1e-6), shape)


def plan_with(**changes: Any) -> Plan:
    return parse_plan(changed(**changes))


FADING = [
    {"kind": "two-path-fading", "preset": "mid-latitude quiet", "trials_together": 5},
    {"kind": "gaussian-noise", "snr_db": "axis"},
]


def test_the_shape_of_a_curve() -> None:
    plan = plan_with(conditions=[condition(), condition(name="fading", impairments=FADING)])
    assert curve_shape(plan, 0) == CurveShape("probit", False, 1)
    assert curve_shape(plan, 1) == CurveShape("faded", False, 5)
    carrier = {"kind": "carrier", "offset_hz": 20.0, "interference_to_noise_db": "axis"}
    noise = {"kind": "gaussian-noise", "snr_db": -10.0}
    beside = plan_with(conditions=[condition(impairments=[noise, carrier])])
    assert curve_shape(beside, 0) == CurveShape("probit", True, 1)


Decodes = Callable[[tuple[int, int], float, int], bool]


class Run:
    """A campaign without a journal: trials are there once they were asked for."""

    def __init__(self, plan: Plan, decodes: Decodes) -> None:
        self.plan, self.decodes = plan, decodes
        self.n_there: dict[tuple[tuple[int, int], float], int] = {}

    def first(self, curve: tuple[int, int], n_at: Mapping[float, int]) -> Side | None:
        if any(self.n_there.get((curve, value), 0) < n for value, n in n_at.items()):
            return None
        return Side(
            {
                value: (
                    np.array([self.decodes(curve, value, i) for i in range(n)], np.bool_),
                    np.full(n, True),
                )
                for value, n in n_at.items()
            },
            n_together=curve_shape(self.plan, curve[0]).n_together,
        )

    def to_the_end(self, *curves: tuple[int, int]) -> list[Asked]:
        """What was asked for, step by step; the last is final and all there."""
        steps = []
        while True:
            asked = [asked_of(self.plan, curve, self.first) for curve in curves]
            steps.append(asked[0])
            known = dict(self.n_there)
            for curve, wanted in zip(curves, asked, strict=True):
                for value, n in wanted.n_at.items():
                    here = (curve, value)
                    self.n_there[here] = max(n, self.n_there.get(here, 0))
            if known == self.n_there:
                assert all(wanted.is_final for wanted in asked)
                return steps


def luck(*key: object) -> float:
    digest = hashlib.sha256("/".join(map(str, key)).encode()).digest()
    return int.from_bytes(digest[:8], "big") / 2.0**64


def receiver_of(threshold: float, scale: float = 0.75, turn: float = 1.0) -> Decodes:
    def decodes(curve: tuple[int, int], value: float, index: int) -> bool:
        z = (turn * value - threshold - 0.8 * curve[1]) / scale
        return luck(value, index) < special.ndtr(z)

    return decodes


ADAPTIVE = {"start": -27.0, "stop": -15.0, "step": 0.5, "placement": "adaptive"}


def test_adaptive_placement_finds_the_threshold_where_it_is() -> None:
    plan = plan_with(axis=ADAPTIVE, stop={"threshold_half_width_db": 0.15})
    run = Run(plan, receiver_of(-21.3))
    steps = run.to_the_end((0, 0))
    n_at = steps[-1].n_at
    assert sum(n_at.values()) < 400
    # Most are within 1 dB of the threshold, some everywhere.
    near = sum(n for value, n in n_at.items() if abs(value + 21.3) < 1.0)
    assert near > 0.6 * sum(n_at.values())
    side = run.first((0, 0), n_at)
    assert side is not None
    found = read_threshold(in_pairs(side, side).side_a())
    assert isinstance(found, Threshold)
    assert found.interval.half_width <= 0.15
    assert found.interval.holds(-21.3)
    for before, after in pairwise(steps):
        assert all(after.n_at[value] >= n for value, n in before.n_at.items())


def test_placement_depends_on_the_journal_alone() -> None:
    plan = plan_with(axis=ADAPTIVE, stop={"threshold_half_width_db": 0.2})
    calm = Run(plan, receiver_of(-19.0))
    expected = calm.to_the_end((0, 0))[-1]
    full = Run(plan, receiver_of(-19.0))  # an earlier plan has left more trials than asked for
    full.n_there = {((0, 0), value): 300 for value in plan.axis.points()}
    assert asked_of(plan, (0, 0), full.first) == expected


def test_a_falling_curve_is_placed_in_the_mirror() -> None:
    rule = StopRule(threshold_half_width_db=0.2, nothing_sent=0)
    values = tuple(np.arange(-4.0, 8.5, 0.5).tolist())
    up, down = {}, {}
    for turn, n_at in ((1.0, up), (-1.0, down)):
        axis = tuple(sorted(turn * value for value in values))
        receiver = receiver_of(2.2, turn=turn)

        def points(n_at: Mapping[float, int], receiver: Decodes = receiver) -> Points:
            k = [sum(receiver((0, 0), v, i) for i in range(n)) for v, n in n_at.items()]
            return Points(np.array(list(n_at)), np.array(k), np.array(list(n_at.values())))

        # Luck must not depend on the sign of the value.
        chosen, is_final = placed(axis, rule, CurveShape(is_falling=turn < 0), points)
        assert is_final
        n_at.update(chosen)
    for n_at, sign in ((up, 1.0), (down, -1.0)):
        most = max(n_at, key=lambda value: n_at[value])
        assert abs(sign * most - 2.2) < 0.8


def test_a_threshold_off_the_axis_ends_the_search() -> None:
    plan = plan_with(axis=ADAPTIVE, stop={"threshold_half_width_db": 0.1, "at_most": 5000})
    for threshold in (-9.0, -33.0):
        last = Run(plan, receiver_of(threshold)).to_the_end((0, 0))[-1]
        assert sum(last.n_at.values()) < 300


def test_the_limit_of_a_curve_is_kept() -> None:
    plan = plan_with(axis=ADAPTIVE, stop={"threshold_half_width_db": 0.01, "at_most": 333})
    last = Run(plan, receiver_of(-21.0)).to_the_end((0, 0))[-1]
    assert sum(last.n_at.values()) == 333 == plan.limit_per_curve


def test_groups_stay_whole() -> None:
    plan = plan_with(
        axis={"start": -27.0, "stop": 3.0, "step": 1.5, "placement": "adaptive"},
        stop={"threshold_half_width_db": 1.0, "at_most": 600},
        conditions=[condition(impairments=FADING)],
    )
    last = Run(plan, receiver_of(-18.0, scale=4.0)).to_the_end((0, 0))[-1]
    assert all(n % 5 == 0 for n in last.n_at.values())


def test_a_duel_runs_until_it_is_decided() -> None:
    axis = {"start": -24.0, "stop": -18.0, "step": 1.0}
    stop = {"until": "decided", "at_most": 400}
    plan = plan_with(axis=axis, stop=stop, receivers=TWO)
    run = Run(plan, receiver_of(-21.3))
    steps = run.to_the_end((0, 0), (0, 1))
    (n,) = set(steps[-1].n_at.values())
    assert n % 10 == 0 and n < 100
    assert asked_of(plan, (0, 1), run.first) == steps[-1]
    for n_trials, lead in ((n - 10, Lead.OPEN), (n, Lead.A_BETTER)):
        n_at = dict.fromkeys(plan.axis.points(), n_trials)
        a, b = (run.first((0, receiver), n_at) for receiver in (0, 1))
        assert a is not None and b is not None
        assert decide(*count_discordant(in_pairs(a, b))).lead is lead
    alike = Run(plan, lambda curve, value, i: luck(value, i, curve) < special.ndtr(value + 21.3))
    last = alike.to_the_end((0, 0), (0, 1))[-1]
    assert set(last.n_at.values()) == {400}


def test_who_fights_whom() -> None:
    stop = {"until": "decided"}
    both = plan_with(stop=stop, receivers=TWO, conditions=[condition(), condition(name="again")])
    assert duellists(both, (1, 0)) == duellists(both, (1, 1)) == ((1, 0), (1, 1))
    two_conditions = plan_with(stop=stop, conditions=[condition(), condition(name="again")])
    assert duellists(two_conditions, (1, 0)) == ((0, 0), (1, 0))
    with pytest.raises(PlanError, match="two receivers, or one receiver and two conditions"):
        plan_with(stop=stop)


def test_adaptive_placement_wants_a_precision_and_room() -> None:
    with pytest.raises(PlanError, match="threshold_half_width_db"):
        plan_with(axis=ADAPTIVE, stop={"trials_per_point": 10})
    with pytest.raises(PlanError, match="5 values or more"):
        plan_with(
            axis={"values": [-3.0, -2.0], "placement": "adaptive"},
            stop={"threshold_half_width_db": 0.1},
        )


def test_looks_are_whole_blocks() -> None:
    assert all(n % BLOCK_TRIALS == 0 for n in list(looks(3000))[:-1])
    assert list(looks(35, 10)) == [10, 20, 30, 35]
