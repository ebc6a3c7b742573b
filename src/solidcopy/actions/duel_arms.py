"""The second arm of a duel: the same message every time, beside random ones."""

from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.reports.duel_arms import RANDOM
from solidcopy.trials.condition import MAX_NAME, Condition
from solidcopy.trials.plan import Plan, parse_plan

END = ", same message"
"""Of a twin's name."""


def with_same_message(plan: Plan, text: str) -> Plan:
    """The plan with a twin of every condition that sends random messages.

    Twins meet the same noise as their originals. What the campaign has already is kept, and a twin
    that is there already is not added again. Of a condition on a map every value has its twin, and
    the twins are a map of their own.

    Args:
        plan: not changed.
        text: sent in every trial of the twins.
    Raises: PlanError if the mode cannot carry the text, or if there is nothing to add to.
    """
    mode = mode_named(plan.mode)
    sent = mode.pack(text).text
    if sent != text:
        raise PlanError(f'--same-message: "{text}" would be sent as "{sent}"; give it that way')
    twins = [_twin(plan, condition, text) for condition in plan.conditions if _is_random(condition)]
    if not twins:
        raise PlanError("--same-message: no condition of the plan sends random messages")
    known = [condition.identity() for condition in plan.conditions]
    new = [twin for twin in twins if twin.identity() not in known]
    data = plan.model_dump()
    data["conditions"] = [*data["conditions"], *(twin.model_dump() for twin in new)]
    return parse_plan(data)


def _is_random(condition: Condition) -> bool:
    return condition.sending.message == RANDOM


def _twin(plan: Plan, condition: Condition, text: str) -> Condition:
    written = condition.as_written()
    sending = written.sending.model_copy(update={"message": text})
    name = written.name[: MAX_NAME - len(END) - _longest_place(plan, condition)] + END
    twin = written.model_copy(update={"name": name, "sending": sending})
    return twin if condition.mapped is None else twin.on_map(condition.mapped.value)


def _longest_place(plan: Plan, condition: Condition) -> int:
    """Letters that a place on the condition's map takes at most in a name; 0 off maps."""
    if condition.mapped is None:
        return 0
    return max(
        len(other.name) - len(other.mapped.condition)
        for other in plan.conditions
        if other.mapped is not None and other.mapped.condition == condition.mapped.condition
    )
