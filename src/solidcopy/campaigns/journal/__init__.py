"""The durable record of a campaign: one SQLite file, one writer, any number of readers."""

from solidcopy.campaigns.journal.contents import content_version
from solidcopy.campaigns.journal.reader import JournalReader
from solidcopy.campaigns.journal.records import (
    ElapsedSummary,
    FalseDecodes,
    Finished,
    JournalRow,
    LevelSummary,
    RunRecord,
)
from solidcopy.campaigns.journal.writer import JournalWriter

__all__ = [
    "ElapsedSummary",
    "FalseDecodes",
    "Finished",
    "JournalReader",
    "JournalRow",
    "JournalWriter",
    "LevelSummary",
    "RunRecord",
    "content_version",
]
