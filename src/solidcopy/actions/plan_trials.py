"""How many trials a wished answer takes, and how long they take here."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from solidcopy.actions.assumptions import Assumptions, Side, assume
from solidcopy.campaigns.pace import Pace, measure_pace
from solidcopy.errors import PlanError
from solidcopy.reports.axis import axis_facts
from solidcopy.statistics.pairs_planning import Unlike, pairs_for_power
from solidcopy.statistics.planning import (
    detecting_error,
    placed_trials_for,
    trials_for,
    wanted_error,
)
from solidcopy.statistics.sequential import decision_odds
from solidcopy.trials.plan import Plan, read_plan

MOST_UNLIKE = 3000
"""Trials that one side alone decodes, up to which a decision is forecast."""
OFTEN = 0.9


@dataclass(frozen=True, slots=True)
class Goal:
    """What is wished for: one of two.

    Args:
        half_width_db: of the 95 % interval of each threshold.
        difference_db: true difference of two thresholds that is to be found.
        p: share of messages at the threshold.
        power: probability of finding the difference.
        risk: of finding one where there is none.
    """

    half_width_db: float | None
    difference_db: float | None
    p: float = 0.5
    power: float = 0.9
    risk: float = 0.05

    def check(self) -> None:
        """Raises PlanError with what is allowed."""
        if (self.half_width_db is None) == (self.difference_db is None):
            raise PlanError("give one of --half-width-db and --difference-db")
        size = self.half_width_db or self.difference_db or 0.0
        if not 0.001 <= size <= 100.0:
            raise PlanError(f"{size:g} dB is no useful size: give 0.001 to 100")
        if not 0.02 <= self.p <= 0.98:
            raise PlanError(f"--p must lie between 0.02 and 0.98, not {self.p:g}")
        if not 0.5 < self.power <= 0.999:
            raise PlanError(f"--power must lie between 0.5 and 0.999, not {self.power:g}")
        if not 0.0001 <= self.risk <= 0.5:
            raise PlanError(f"--risk must lie between 0.0001 and 0.5, not {self.risk:g}")


@dataclass(frozen=True, slots=True)
class Need:
    """Trials for one curve, or for one pair of curves.

    Args:
        name: of the curve, or of the pair.
        per_point: at each axis value, of each curve; None where no number is enough.
        placed: of each curve, if they are placed adaptively.
        decided: mean trials at each value until it is decided who decodes more, and the number by
            which that is so nine times in ten; of a pair, if that is to be expected at all.
    """

    name: str
    per_point: int | None
    placed: int | None
    decided: tuple[float, int] | None = None


@dataclass(frozen=True, slots=True)
class TrialsNeeded:
    """The answer.

    Args:
        plan, goal: what was asked.
        assumptions: on what it rests.
        needs: one for each curve or pair.
        pace: as measured just now.
    """

    plan: Plan
    goal: Goal
    assumptions: Assumptions
    needs: tuple[Need, ...]
    pace: Pace

    @property
    def per_point(self) -> int | None:
        """At each axis value: what the neediest takes."""
        numbers = [need.per_point for need in self.needs]
        return None if None in numbers else max(n for n in numbers if n is not None)

    @property
    def n_even(self) -> int | None:
        """Recordings in all, as many at each axis value, those with nothing sent included."""
        if self.per_point is None:
            return None
        n_points = len(self.plan.axis.points())
        return len(self.plan.conditions) * (self.per_point * n_points + self.plan.stop.nothing_sent)

    @property
    def n_placed(self) -> int | None:
        """Recordings in all, placed adaptively: each curve has its own."""
        numbers = [need.placed for need in self.needs]
        if None in numbers:
            return None
        worst = max(n for n in numbers if n is not None)
        n_curves = len(self.plan.conditions) * len(self.plan.receivers)
        return n_curves * worst + len(self.plan.conditions) * self.plan.stop.nothing_sent


def plan_trials(file: Path, goal: Goal, *, n_workers: int | None = None) -> TrialsNeeded:
    """Work out the trials, and time a few of them on this machine now.

    A pilot, if the plan's campaign folder holds one, replaces the usual figures.

    Raises: PlanError, JournalError, CalibrationError, AudioFileError.
    """
    goal.check()
    if n_workers is not None and n_workers < 1:
        raise PlanError(f"--workers must be at least 1, not {n_workers}")
    plan = read_plan(file)
    if axis_facts(plan).sense == "other":
        raise PlanError(
            f"{file}: trials are planned along an axis of levels in dB (an SNR, S/I, I/N or the "
            "signal's level); this plan sweeps another field"
        )
    values = np.array(plan.axis.points())
    if values.size < 3:
        raise PlanError(f"{file}: three axis values or more are needed to plan trials")
    assumptions = assume(plan, file)
    needs = _for_curves(assumptions, values, goal)
    if goal.difference_db is not None:
        needs = _for_pairs(assumptions, values, goal)
    if not needs:
        raise PlanError(f"{file}: a difference needs two conditions or two receivers")
    pace = measure_pace(plan, file.resolve().parent, n_workers=n_workers)
    return TrialsNeeded(plan, goal, assumptions, tuple(needs), pace)


def _for_curves(assumptions: Assumptions, values: np.ndarray, goal: Goal) -> list[Need]:
    if goal.half_width_db is None:
        return []
    wanted = wanted_error(goal.half_width_db)
    return [
        Need(
            side.name,
            trials_for(side.standard_error(values, goal.p), wanted),
            placed_trials_for(
                side.curve.placed_error(goal.p), wanted, worth=side.curve.placed_worth(goal.p)
            ),
        )
        for side in assumptions.sides.values()
    ]


def _for_pairs(assumptions: Assumptions, values: np.ndarray, goal: Goal) -> list[Need]:
    """Both sides get as many trials; placed adaptively they share none."""
    assert goal.difference_db is not None
    wanted = detecting_error(goal.difference_db, power=goal.power, risk=goal.risk)
    needs = []
    for pair in assumptions.pairs:
        a, b = (assumptions.sides[place] for place in pair.places)
        of_a, of_b = (side.standard_error(values, goal.p) for side in (a, b))
        of_both = np.sqrt(max(0.0, of_a**2 + of_b**2 - 2.0 * pair.correlation * of_a * of_b))
        alone = np.hypot(a.curve.placed_error(goal.p), b.curve.placed_error(goal.p))
        worth = max(side.curve.placed_worth(goal.p) for side in (a, b))
        needs.append(
            Need(
                pair.name,
                trials_for(float(of_both), wanted),
                placed_trials_for(float(alone), wanted, worth=worth),
                _until_decided(a, values, pair.correlation, goal),
            )
        )
    return needs


def _until_decided(
    side: Side, values: np.ndarray, correlation: float, goal: Goal
) -> tuple[float, int] | None:
    """If the other side's curve is the same, so many dB farther right."""
    assert goal.difference_db is not None
    values = side.rising(values)
    unlike = Unlike.of(side.curve, side.curve.moved(goal.difference_db), values, correlation)
    if unlike.share <= 0.0 or pairs_for_power(unlike, power=0.5, risk=goal.risk) is None:
        return None
    odds = decision_odds(unlike.share_a, MOST_UNLIKE, risk=goal.risk)
    decided = odds.p_a + odds.p_b
    if decided[-1] < OFTEN:
        return None
    per_point = 1.0 / (unlike.share * values.size)
    n_often = int(np.searchsorted(decided, OFTEN)) + 1
    return odds.mean_n * per_point, int(np.ceil(n_often * per_point))
