"""A journal in another place: copied while a run may write, looked at before it is used."""

import sqlite3
from contextlib import closing
from pathlib import Path

from solidcopy.campaigns.journal.schema import (
    JOURNAL_FILE,
    open_for_reading,
    refuse_foreign,
    sentences,
)
from solidcopy.errors import JournalError

KNOWN_TABLES = frozenset({"curve", "receiver", "run", "recording", "outcome", "stretch", "refused"})


def copy_journal(folder: Path, into: Path) -> Path:
    """The journal of a campaign as it is now, as one plain file in another folder.

    SQLite's backup takes one moment of it, whatever a run writes meanwhile; memory stays small.

    Args:
        folder: of the campaign.
        into: made if missing; holds no journal yet.
    Returns: the copy.
    Raises: JournalError if there is no journal, or if it cannot be read.
    """
    into.mkdir(parents=True, exist_ok=True)
    copy = into / JOURNAL_FILE
    with sentences(folder / JOURNAL_FILE):
        source = open_for_reading(folder / JOURNAL_FILE)
        with closing(source), closing(sqlite3.connect(copy, isolation_level=None)) as target:
            source.backup(target)
            target.execute("PRAGMA journal_mode=DELETE")
    return copy


def refuse_strange(path: Path) -> None:
    """JournalError for a file from elsewhere that is not wholly what this program writes.

    Views and triggers would run with whoever reads the file; there are none in a journal.
    """
    with sentences(path):
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
        with closing(connection):
            connection.execute("PRAGMA trusted_schema=OFF")
            refuse_foreign(connection, path)
            found = connection.execute("SELECT type, name FROM sqlite_master").fetchall()
            strange = [
                f"{kind} {name!r}"
                for kind, name in found
                if not (kind == "table" and name in KNOWN_TABLES)
                and not name.startswith("sqlite_autoindex_")
            ]
            if strange:
                raise JournalError(
                    f"{path.name}: holds what no journal does ({', '.join(strange[:3])})"
                )
            (said,) = connection.execute("PRAGMA quick_check(1)").fetchone()
            if said != "ok":
                raise JournalError(f"{path.name}: is damaged ({said})")
