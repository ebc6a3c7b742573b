"""All campaigns of a bench folder, each with how far it came and what it answers."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.lock import holder
from solidcopy.campaigns.progress import progress_of
from solidcopy.errors import SolidcopyError
from solidcopy.reports.answer import answer
from solidcopy.reports.gather import gather


@dataclass(frozen=True, slots=True)
class CampaignCard:
    """One campaign in a list."""

    name: str
    title: str
    n_done: int
    n_planned: int
    is_running: bool
    is_finished: bool
    sentence: str
    """The answer so far, or why there is none."""

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return asdict(self)


def campaign_card(name: str, folder: Path) -> CampaignCard:
    """What one campaign says now. A journal that cannot be read says so instead of an answer."""
    is_running = holder(folder) is not None
    try:
        with JournalReader(folder) as reader:
            progress = progress_of(reader)
            sentence = answer(gather(reader)).headline if progress.n_done else "Nothing tried yet."
            title = reader.plan.title or name
    except SolidcopyError as error:
        return CampaignCard(name, name, 0, 0, is_running, False, str(error))
    return CampaignCard(
        name,
        title,
        progress.n_done,
        progress.n_planned,
        is_running,
        progress.is_finished,
        sentence,
    )


def list_campaigns(workspace: Workspace) -> list[CampaignCard]:
    """All of them, the one written last first."""
    return [campaign_card(name, workspace.campaign(name)) for name in workspace.campaigns()]
