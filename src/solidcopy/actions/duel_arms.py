"""The second arm of a duel: the same message every time, beside random ones."""

from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.reports.duel_arms import RANDOM
from solidcopy.trials.condition import MAX_NAME, Condition
from solidcopy.trials.plan import Plan, parse_plan


def with_same_message(plan: Plan, text: str) -> Plan:
    """The plan with a twin of every condition that sends random messages.

    Twins meet the same noise as their originals. What the campaign has already is kept, and a twin
    that is there already is not added again.

    Args:
        plan: not changed.
        text: sent in every trial of the twins.
    Raises: PlanError if the mode cannot carry the text, or if there is nothing to add to.
    """
    mode = mode_named(plan.mode)
    sent = mode.pack(text).text
    if sent != text:
        raise PlanError(f'--same-message: "{text}" would be sent as "{sent}"; give it that way')
    if plan.map is not None:
        raise PlanError(
            "--same-message: a plan with a map has a curve for each of its values already; add "
            "the conditions with a fixed `sending.message` to the plan by hand"
        )
    twins = [_twin(condition, text) for condition in plan.conditions if _is_random(condition)]
    if not twins:
        raise PlanError("--same-message: no condition of the plan sends random messages")
    known = [condition.identity() for condition in plan.conditions]
    new = [twin for twin in twins if twin.identity() not in known]
    data = plan.model_dump()
    data["conditions"] = [*data["conditions"], *(twin.model_dump() for twin in new)]
    return parse_plan(data)


def _is_random(condition: Condition) -> bool:
    return condition.sending.message == RANDOM


def _twin(condition: Condition, text: str) -> Condition:
    end = ", same message"
    sending = condition.sending.model_copy(update={"message": text})
    name = condition.name[: MAX_NAME - len(end)] + end
    return condition.model_copy(update={"name": name, "sending": sending})
