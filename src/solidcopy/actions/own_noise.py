"""Plans and campaigns of a bench folder that play one recording."""

from dataclasses import dataclass

from solidcopy.actions.cost_plan import GAUSSIAN, OWN
from solidcopy.actions.folder import plan_of
from solidcopy.actions.list_recordings import campaigns_of, plans_of
from solidcopy.actions.looks.answer import FIT, PLAN
from solidcopy.actions.looks.store import file_of_look
from solidcopy.actions.run import read_status
from solidcopy.actions.twin_plan import TWIN
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import NotThereError, PlanError
from solidcopy.reports.whole_file import put_text

FIT_SUFFIX = FIT.removeprefix(PLAN.removesuffix(".toml"))


@dataclass(frozen=True, slots=True)
class OwnNoiseCampaign:
    """A campaign that plays a recording."""

    name: str
    n_done: int
    n_planned: int
    is_finished: bool
    has_answer: bool
    """Whether it asks for cost or twin; others are answered by their own page."""


def keep_plan_of_look(space: Workspace, key: str, name: str) -> None:
    """Keep the plan that a look wrote, and what was fitted for it, under a new name.

    Raises: PlanError if the name is taken, NotThereError if the look is not kept.
    """
    file = space.plan(name)
    if file.exists():
        raise PlanError(f"a plan {name!r} is there already: choose another name")
    plan = file_of_look(space, key, PLAN)
    try:
        fitted = file_of_look(space, key, FIT).read_text(encoding="utf-8")
        put_text(file.with_suffix(FIT_SUFFIX), fitted)
    except NotThereError:
        pass  # nothing was fitted: the plan says it all
    put_text(file, plan.read_text(encoding="utf-8"))


def plans_beside(space: Workspace, recording: str) -> tuple[str, ...]:
    """Plans that name a recording and were not begun yet."""
    begun = set(space.campaigns())
    return tuple(name for name in plans_of(space, space.recording(recording)) if name not in begun)


def campaigns_beside(space: Workspace, recording: str) -> tuple[OwnNoiseCampaign, ...]:
    """Campaigns that play a recording, the one written last first."""
    found = []
    for name in campaigns_of(space, space.recording(recording)):
        progress = read_status(space.campaign(name))
        names = {condition.name for condition in plan_of(space.campaign(name)).conditions}
        found.append(
            OwnNoiseCampaign(
                name,
                progress.n_done,
                progress.n_planned,
                progress.is_finished,
                has_answer=OWN in names and not names.isdisjoint({GAUSSIAN, TWIN}),
            )
        )
    return tuple(found)
