"""What a journal says of itself: whose it is, and in which state."""

import json
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from solidcopy.campaigns.journal import queries
from solidcopy.campaigns.journal.schema import JOURNAL_FILE, open_for_reading, sentences
from solidcopy.errors import JournalError, PlanError
from solidcopy.trials.plan import Plan, parse_plan


@dataclass(frozen=True, slots=True)
class Contents:
    """The last run's plan, and by which numbers its rows are found.

    Args:
        curves: of each condition of the plan.
        receivers: of each receiver of the plan.
    """

    plan: Plan
    curves: list[int]
    receivers: list[int]


def read_contents(connection: sqlite3.Connection, path: Path) -> Contents:
    """Raises JournalError if nothing was ever run, or by another version of the program."""
    with sentences(path):
        row = connection.execute(
            "SELECT plan, curves, receivers FROM run ORDER BY run DESC LIMIT 1"
        ).fetchone()
    if row is None:
        raise JournalError(f"{path}: holds no campaign yet; run its plan first")
    plan, curves, receivers = map(json.loads, row)
    try:
        return Contents(parse_plan(plan), curves, receivers)
    except PlanError as error:
        raise JournalError(
            f"{path}: the plan in it is not understood ({error}); use the program version that "
            "wrote it"
        ) from None


def content_version(folder: Path) -> str:
    """As `JournalReader.content_version`, without reading the plan: a millisecond."""
    path = folder / JOURNAL_FILE
    with sentences(path), closing(open_for_reading(path)) as connection:
        return queries.content_version(connection)
