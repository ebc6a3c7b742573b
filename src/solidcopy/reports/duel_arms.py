"""Random messages beside the same message every time: does one of the two remember?"""

from collections.abc import Iterator, Sequence

from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.duel_facts import ArmsDuel, ConditionDuel
from solidcopy.reports.duel_shifts import difference_of_shifts, paired_shift
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.fading import curve_form
from solidcopy.trials.condition import Condition
from solidcopy.trials.identity import canonical_json
from solidcopy.trials.plan import Plan

RANDOM = "random"


def arm_places(plan: Plan) -> list[tuple[int, int]]:
    """Places of conditions with random messages, each with a twin of the same message: they differ
    in nothing but what is sent."""
    physics = [_physics(condition) for condition in plan.conditions]
    twins: dict[str, list[int]] = {}
    for place, condition in enumerate(plan.conditions):
        if condition.sending.message != RANDOM:
            twins.setdefault(physics[place], []).append(place)
    return [
        (place, twin)
        for place, condition in enumerate(plan.conditions)
        if condition.sending.message == RANDOM
        for twin in twins.get(physics[place], ())
    ]


def _physics(condition: Condition) -> str:
    """Everything that alters a recording, but the message."""
    identity = condition.identity()
    return canonical_json({**identity, "sending": {**identity["sending"], "message": ""}})


def arms_duels(
    reader: JournalReader,
    axis: AxisFacts,
    receivers: tuple[int, int],
    conditions: Sequence[ConditionDuel],
) -> Iterator[ArmsDuel]:
    """What each of the two gains where it could remember the message.

    Args:
        reader: of the campaign.
        axis: of its plan.
        receivers: places of A and B.
        conditions: of the plan, in order.
    """
    for random, same in arm_places(reader.plan):
        form = curve_form(reader.plan.conditions[random], axis)
        gain_a, gain_b = (
            paired_shift(
                reader.paired((same, receiver), (random, receiver)),
                axis,
                (form, form),
                sides=("the same message", "random messages"),
            )
            for receiver in receivers
        )
        extra = difference_of_shifts(
            conditions[random].sides.difference, conditions[same].sides.difference
        )
        yield ArmsDuel(conditions[random].name, conditions[same].name, gain_a, gain_b, extra)
