"""Which trial of a plan is looked at, and what of it is muted."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from solidcopy.errors import NotThereError, PlanError
from solidcopy.reports.wording import plain, quoted
from solidcopy.trials.expand import TrialKey, nothing_sent_value, place_of
from solidcopy.trials.make import WANTED
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

MOST_INDEX = 100_000_000
MOST_MUTED = 64
MOST_LISTED = 40


class AskedTrial(BaseModel):
    """One trial of a plan."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    condition: Annotated[str, Field(max_length=400)] = "1"
    """Name as in the expanded plan, or number from 1."""
    axis_value: Annotated[float, Field(allow_inf_nan=False)] | None = None
    """One of the plan's; left out: the middle one."""
    index: Annotated[int, Field(ge=0, le=MOST_INDEX)] = 0
    """From 0."""
    sent: bool = True
    """False: of the series in which nothing is sent, to count false decodes."""
    mute: Annotated[list[Annotated[int, Field(ge=0, le=999)]], Field(max_length=MOST_MUTED)] = []
    """What is left out: 0 is the wanted signal, others are impairments as listed, from 1."""

    def key(self, plan: Plan) -> TrialKey:
        """Place of the trial. Raises NotThereError if the plan has no such trial."""
        names = [condition.name for condition in plan.conditions]
        try:
            place = place_of(self.condition, names, what="condition")
        except PlanError as error:
            raise NotThereError(str(error)) from None
        if not self.sent:
            return TrialKey(place, NOTHING_SENT, nothing_sent_value(plan), self.index)
        return TrialKey(place, SENT, self._value(plan), self.index)

    def silent(self, plan: Plan, key: TrialKey) -> frozenset[int]:
        """Numbers of what is muted. Raises PlanError if the condition has no such thing."""
        n = len(plan.conditions[key.condition].impairments)
        beyond = [number for number in self.mute if not WANTED <= number <= n]
        if beyond:
            raise PlanError(
                f"mute: {beyond[0]} is no part of this condition; 0 is the wanted signal, 1 to "
                f"{n} are its impairments"
            )
        return frozenset(self.mute)

    def _value(self, plan: Plan) -> float:
        values = plan.axis.points()
        if self.axis_value is None:
            return nothing_sent_value(plan)
        nearest = min(values, key=lambda value: abs(value - self.axis_value))  # type: ignore[operator]
        if abs(nearest - self.axis_value) > 1e-9:
            listed = ", ".join(plain(value) for value in values[:MOST_LISTED])
            raise NotThereError(
                f"no axis value {plain(self.axis_value)} in this plan; it has {listed}"
            )
        return nearest


def trial_words(plan: Plan, key: TrialKey, axis_words: str) -> str:
    """A trial in words."""
    name = quoted(plan.conditions[key.condition].name)
    if key.arm == SENT:
        return f"Trial {key.trial_index} of {name} at {axis_words}"
    return f"Trial {key.trial_index} of {name} with nothing sent (the rest as at {axis_words})"
