"""From a plan to trials, and the short name by which a person asks for one of them."""

from collections.abc import Iterator
from dataclasses import dataclass

from solidcopy.errors import PlanError
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import NOTHING_SENT, SENT, Trial


@dataclass(frozen=True, slots=True, order=True)
class TrialKey:
    """Place of one trial in a plan."""

    condition: int
    """0-based place of the condition."""
    arm: str
    axis_value: float
    trial_index: int

    def __str__(self) -> str:
        """E.g. "2@-21#17": condition 2 (counted from 1), axis value −21, trial 17."""
        at = f"{self.axis_value:g}" if self.arm == SENT else "nothing"
        return f"{self.condition + 1}@{at}#{self.trial_index}"


def nothing_sent_value(plan: Plan) -> float:
    """Axis value at which the trials without a signal are made: the middle one."""
    points = plan.axis.points()
    return points[len(points) // 2]


def trials_in_block(plan: Plan, first_index: int, n_trials: int) -> Iterator[TrialKey]:
    """All trials of the signal-bearing arm with these indexes, point by point."""
    for place in range(len(plan.conditions)):
        for value in plan.axis.points():
            for index in range(first_index, first_index + n_trials):
                yield TrialKey(place, SENT, value, index)


def trial_of(plan: Plan, key: TrialKey, at_value: Condition | None = None) -> Trial:
    """The recipe of one trial; `at_value` spares working out the condition again."""
    condition = at_value or plan.conditions[key.condition].at(key.axis_value)
    level = plan.audio.level_dbfs
    return Trial(
        mode=plan.mode,
        condition=condition,
        sample_rate_hz=plan.audio.sample_rate_hz,
        level_dbfs=None if level == "auto" else float(level),
        chance=Chance(plan.root_seed, key.arm, key.trial_index, key.axis_value),
        internal_rate_hz=plan.audio.internal_rate_hz,
    )


def parse_trial_key(text: str, plan: Plan) -> TrialKey:
    """A trial from its short name "CONDITION@VALUE#INDEX" or "CONDITION@nothing#INDEX".

    The condition is its number (from 1) or its name. Raises PlanError with what is allowed.
    """
    allowed = 'a trial is named like "2@-21#17" (condition@axis value#index) or "2@nothing#17"'
    head, at, rest = text.rpartition("@")
    value_text, hash_mark, index_text = rest.partition("#")
    if not (at and hash_mark and index_text.isdigit()):
        raise PlanError(f'"{text}" names no trial: {allowed}')
    place = place_of(head, [condition.name for condition in plan.conditions], what="condition")
    if value_text == "nothing":
        return TrialKey(place, NOTHING_SENT, nothing_sent_value(plan), int(index_text))
    return TrialKey(place, SENT, _axis_value(value_text, plan), int(index_text))


def place_of(text: str, names: list[str], *, what: str) -> int:
    """0-based place of a condition or receiver, called by its name or its number from 1."""
    if text in names:
        return names.index(text)
    if text.isdigit() and 1 <= int(text) <= len(names):
        return int(text) - 1
    listed = ", ".join(f'{number} "{name}"' for number, name in enumerate(names, 1))
    raise PlanError(f'"{text}" is no {what} of this plan; it has {listed}')


def _axis_value(text: str, plan: Plan) -> float:
    points = plan.axis.points()
    try:
        asked = float(text)
    except ValueError:
        asked = float("nan")
    for value in points:
        if abs(value - asked) < 1e-6:
            return value
    listed = ", ".join(f"{value:g}" for value in points)
    raise PlanError(f'"{text}" is no value on the axis; it has {listed}')
