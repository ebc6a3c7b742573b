"""Which other campaigns of the bench can be drawn over a campaign's axis."""

from dataclasses import dataclass
from pathlib import Path

from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import SolidcopyError
from solidcopy.reports.axis import axis_facts
from solidcopy.trials.plan import Plan


@served
@dataclass(frozen=True, slots=True)
class BesideCampaign:
    """A campaign with the same quantity on its axis."""

    name: str
    title: str


def campaigns_beside(workspace: Workspace, name: str) -> list[BesideCampaign]:
    """The campaigns whose axis has the same quantity and unit, the one written last first.

    Of those over a map only the ones with single curves too; what cannot be read is left out.

    Raises: NotThereError, JournalError of the campaign itself.
    """
    own = axis_facts(_plan(workspace.campaign(name))).label
    found = []
    for other in workspace.campaigns():
        try:
            plan = _plan(workspace.campaign(other))
        except SolidcopyError:
            continue
        has_curves = any(condition.mapped is None for condition in plan.conditions)
        if other != name and has_curves and axis_facts(plan).label == own:
            found.append(BesideCampaign(other, plan.title or other))
    return found


def _plan(folder: Path) -> Plan:
    with JournalReader(folder) as reader:
        return reader.plan
