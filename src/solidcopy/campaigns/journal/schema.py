"""How a journal file is marked and opened, and brought to the format of this program."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from solidcopy.campaigns.journal.scores import fill_scores, note_counts
from solidcopy.campaigns.journal.tables import REFUSED_TABLE, STRETCH_TABLE, TABLES, has_table
from solidcopy.errors import JournalError

JOURNAL_FILE = "journal.sqlite"
LOCK_FILE = "journal.lock"

APPLICATION_ID = 0x50C0
"""Marks a SQLite file as a journal (arbitrary)."""
FORMAT_VERSION = 2
"""Raised whenever an older program could misread or spoil the file."""
OLDEST_VERSION = 1
"""Lacks `stretch`, `refused` and `n_outcomes`: read as it is, changed by its next writer."""

BUSY_TIMEOUT_S = 30.0


@contextmanager
def sentences(path: Path) -> Iterator[None]:
    """Turns SQLite's complaints into a JournalError that says what to do."""
    try:
        yield
    except sqlite3.OperationalError as error:
        raise JournalError(
            f"{path}: the journal cannot be used ({error}); check that the disk has room, that "
            "the folder may be written and that no other program holds the file"
        ) from None
    except sqlite3.DatabaseError as error:
        raise JournalError(
            f"{path}: is damaged or no journal ({error}); take it from a backup, or choose "
            "another campaign folder"
        ) from None


def is_blank(connection: sqlite3.Connection) -> bool:
    """Whether nothing was ever written: a new file, or one whose making was cut off."""
    return connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone() is None


def refuse_foreign(connection: sqlite3.Connection, path: Path) -> None:
    """JournalError for another program's database and for a newer format."""
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise JournalError(
            f"{path}: is a database of another program, not a journal; choose another folder"
        )
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if not OLDEST_VERSION <= version <= FORMAT_VERSION:
        raise JournalError(
            f"{path}: has journal format {version}, this program reads {OLDEST_VERSION} to "
            f"{FORMAT_VERSION}; use the program version that wrote it"
        )


def _knows_processor_time(connection: sqlite3.Connection) -> bool:
    """Whether outcomes have the column that journals of earlier versions lack."""
    columns = connection.execute("PRAGMA main.table_info(outcome)").fetchall()
    return any(column[1] == "cpu_s" for column in columns)


def _connect(database: str, *, uri: bool) -> sqlite3.Connection:
    """Transactions are ours. A web server may take each step of a campaign in another thread:
    allowed, one at a time.
    """
    return sqlite3.connect(
        database,
        uri=uri,
        timeout=BUSY_TIMEOUT_S,
        isolation_level=None,
        check_same_thread=False,
    )


def open_for_writing(path: Path) -> sqlite3.Connection:
    """A connection to the journal, which is made if it is not there yet."""
    connection = _connect(str(path), uri=False)
    try:
        if is_blank(connection):
            _create(connection)
        refuse_foreign(connection, path)
        _bring_up(connection)
        connection.execute("PRAGMA journal_mode=WAL")
        # With WAL, NORMAL survives a killed program; power loss may cost the last transactions,
        # never the file. Blocks end with FULL (JournalWriter.settle).
        connection.execute("PRAGMA synchronous=NORMAL")
    except BaseException:
        connection.close()
        raise
    return connection


def _create(connection: sqlite3.Connection) -> None:
    connection.execute("BEGIN IMMEDIATE")
    for table in TABLES:
        connection.execute(table)
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={FORMAT_VERSION}")
    connection.execute("COMMIT")


def _bring_up(connection: sqlite3.Connection) -> None:
    """To this format, whole or not at all: a program killed meanwhile leaves the old one."""
    steps = [
        (_knows_processor_time(connection), _add_processor_time),
        (has_table(connection, "stretch"), _add_scores),
        (has_table(connection, "refused"), _add_refused),
    ]
    missing = [add for is_there, add in steps if not is_there]
    if not missing:
        return
    connection.execute("BEGIN IMMEDIATE")
    for add in missing:
        add(connection)
    connection.execute(f"PRAGMA user_version={FORMAT_VERSION}")
    connection.execute("COMMIT")


def _add_processor_time(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE outcome ADD COLUMN cpu_s REAL")


def _add_scores(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE run ADD COLUMN n_outcomes INTEGER NOT NULL DEFAULT 0")
    note_counts(connection)
    connection.execute(STRETCH_TABLE)
    fill_scores(connection)


def _add_refused(connection: sqlite3.Connection) -> None:
    connection.execute(REFUSED_TABLE)


def close_writing(connection: sqlite3.Connection) -> None:
    """Close, leaving one plain file that can be copied or read from a read-only disk.

    While readers are connected the files beside it stay, which is harmless.
    """
    connection.execute("PRAGMA busy_timeout=0")
    with suppress(sqlite3.OperationalError):
        connection.execute("PRAGMA journal_mode=DELETE")
    connection.close()


def open_for_reading(path: Path) -> sqlite3.Connection:
    """A connection that cannot write, beside a running writer or on a read-only disk."""
    if not path.is_file():
        raise JournalError(
            f"{path}: there is no journal; give the folder of a campaign that was started"
        )
    address = path.resolve().as_uri()
    connection = _connect(f"{address}?mode=ro", uri=True)
    try:
        is_empty = is_blank(connection)
    except sqlite3.OperationalError:
        # Even a reader needs files beside a WAL journal; a read-only disk has no room for them.
        # If no writer left any there, the journal itself holds everything.
        connection.close()
        beside = path.with_name(path.name + "-wal")
        if beside.exists() and beside.stat().st_size > 0:
            raise
        connection = _connect(f"{address}?immutable=1", uri=True)
        is_empty = is_blank(connection)
    if is_empty:
        connection.close()
        raise JournalError(f"{path}: holds no campaign yet; run its plan first")
    refuse_foreign(connection, path)
    if not _knows_processor_time(connection):
        # Stands before the table of that name, for this connection only.
        connection.execute("CREATE TEMP VIEW outcome AS SELECT *, NULL AS cpu_s FROM main.outcome")
    return connection
