"""What of the bench can be set against each other, and plans for two settings of our receiver."""

from dataclasses import dataclass

from solidcopy.actions.edit_plan import put_new_plan
from solidcopy.actions.folder import plan_of
from solidcopy.actions.package.plan_text import plan_toml
from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import PlanError, SolidcopyError
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.sound_files import sound_files


@served
@dataclass(frozen=True, slots=True)
class Contender:
    """A plan or a campaign of the bench, with what can be compared in it."""

    name: str
    is_begun: bool
    """Whether it has a campaign."""
    conditions: tuple[str, ...]
    receivers: tuple[str, ...]
    trouble: str
    """Why it cannot be read; empty if it can."""


def contenders(space: Workspace) -> list[Contender]:
    """All of them: campaigns first, the one written last at the top."""
    begun = space.campaigns()
    names = [*begun, *(name for name in space.plans() if name not in begun)]
    return [_contender(space, name, is_begun=name in begun) for name in names]


def _contender(space: Workspace, name: str, *, is_begun: bool) -> Contender:
    try:
        plan = plan_of(space.campaign(name) if is_begun else space.existing_plan(name))
    except SolidcopyError as error:
        return Contender(name, is_begun, (), (), str(error))
    return Contender(
        name,
        is_begun,
        tuple(condition.name for condition in plan.conditions),
        tuple(receiver.name for receiver in plan.receivers),
        "",
    )


@dataclass(frozen=True, slots=True)
class TwoSettings:
    """Two settings of the built-in receiver for the conditions of a plan that is there.

    Args:
        name: of the new plan.
        base: plan of the bench; its conditions, axis and seed are taken over.
        first, second: settings; their names are made of them.
        at_most: trials at each axis value, for a duel that ends once it is decided; None: as many
            as the base asks for, whatever they show.
    """

    name: str
    base: str
    first: BuiltinSettings
    second: BuiltinSettings
    at_most: int | None


def begin_duel_plan(space: Workspace, asked: TwoSettings) -> Plan:
    """Write the new plan. Raises PlanError if the two are the same, or if the name is taken."""
    first, second = (_named(one) for one in (asked.first, asked.second))
    if first == second:
        raise PlanError("the two settings are the same: change one of them")
    base = plan_of(space.existing_plan(asked.base))
    data = base.model_dump()
    data["title"] = f"{first.name} against {second.name}"
    data["receivers"] = [first.model_dump(), second.model_dump()]
    if asked.at_most is not None:
        silent = base.stop.nothing_sent
        data["stop"] = {"until": "decided", "at_most": asked.at_most, "nothing_sent": silent}
    plan = parse_plan(data)
    text = plan_toml(plan, {file: file for file in sound_files(plan)})
    put_new_plan(space, asked.name, text)
    return plan


def _named(settings: BuiltinSettings) -> BuiltinSettings:
    """With a name that says what it is."""
    passes = "1 pass" if settings.passes == 1 else f"{settings.passes} passes"
    return settings.model_copy(update={"name": f"{settings.effort}, {passes}"})
