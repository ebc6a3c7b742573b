"""Which trials a plan has, for choosing one."""

from dataclasses import dataclass

from solidcopy.actions.served import served
from solidcopy.reports.axis import axis_facts
from solidcopy.trials.expand import nothing_sent_value
from solidcopy.trials.plan import Plan


@served
@dataclass(frozen=True, slots=True)
class TrialChoices:
    """What a trial is chosen by."""

    title: str
    mode: str
    conditions: tuple[str, ...]
    """Names; the first is condition 1."""
    axis: str
    """Quantity on the axis."""
    unit: str
    """Of the axis; may be empty."""
    values: tuple[float, ...]
    """On the axis, ascending."""
    middle: float
    """The value at which trials with nothing sent are made."""
    n_trials: int
    """Trials of a curve's point at most; later ones can be looked at too."""


def trial_choices(plan: Plan) -> TrialChoices:
    """Of a plan."""
    facts = axis_facts(plan)
    return TrialChoices(
        title=plan.title,
        mode=plan.mode,
        conditions=tuple(condition.name for condition in plan.conditions),
        axis=facts.quantity,
        unit=facts.unit,
        values=plan.axis.points(),
        middle=nothing_sent_value(plan),
        n_trials=plan.stop.limit_per_point,
    )
