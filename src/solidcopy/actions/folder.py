"""Where a campaign lives on disk, and finding it again from what a person types."""

from pathlib import Path

from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.errors import JournalError
from solidcopy.trials.plan import Plan, read_plan

SUFFIX = ".campaign"
REPORT_FOLDER = "report"
"""In that of the campaign."""


def folder_of(source: Path) -> Path:
    """Campaign folder of a plan file ("x.toml" -> "x.campaign" beside it), or the folder itself."""
    return source if source.is_dir() else source.with_suffix(SUFFIX)


def existing_folder(source: Path) -> Path:
    """As `folder_of`, for a campaign that was begun. Raises JournalError if it was not."""
    folder = folder_of(source)
    if not (folder / JOURNAL_FILE).is_file():
        raise JournalError(
            f"{source}: no campaign was begun there; give the folder that `solidcopy run` made, "
            "or its plan file"
        )
    return folder


def plan_of(source: Path) -> Plan:
    """The plan in a file, or the one that a campaign's journal keeps."""
    if not source.is_dir():
        return read_plan(source)
    with JournalReader(existing_folder(source)) as reader:
        return reader.plan
