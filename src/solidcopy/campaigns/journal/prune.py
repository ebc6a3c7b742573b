"""A journal made smaller: rows that nothing asks for dropped, its pages packed."""

import sqlite3
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.schema import (
    JOURNAL_FILE,
    close_writing,
    open_for_writing,
    sentences,
)
from solidcopy.campaigns.journal.scores import fill_scores, note_counts

_ASKED_TABLE = """CREATE TEMP TABLE asked (
    curve INTEGER, receiver INTEGER, arm INTEGER, axis_value REAL, below INTEGER,
    PRIMARY KEY (curve, arm, axis_value, receiver)
) WITHOUT ROWID"""
_UNASKED_OUTCOME = """NOT EXISTS (SELECT 1 FROM asked AS a
    WHERE (a.curve, a.arm, a.axis_value, a.receiver)
        = (outcome.curve, outcome.arm, outcome.axis_value, outcome.receiver)
    AND outcome.trial_index < a.below)"""
_UNASKED_RECORDING = """NOT EXISTS (SELECT 1 FROM asked AS a
    WHERE (a.curve, a.arm, a.axis_value)
        = (recording.curve, recording.arm, recording.axis_value)
    AND recording.trial_index < a.below)"""


def prune_journal(folder: Path, asked: Iterable[tuple[Place, int]] | None) -> int:
    """Pack the file; a program killed meanwhile leaves a whole journal, packed or not.

    Args:
        folder: of a campaign; the caller holds its `WriterLock`.
        asked: places and numbers of trials of which the rows stay; None: all stay.
    Returns: number of outcomes dropped.
    Raises: JournalError without room for a second file of the same size.
    """
    path = folder / JOURNAL_FILE
    with sentences(path):
        connection = open_for_writing(path)
        try:
            n_dropped = 0 if asked is None else _drop_all_but(connection, asked)
            connection.execute("PRAGMA busy_timeout=0")
            with suppress(sqlite3.OperationalError):  # somebody reads: packed by way of the log
                connection.execute("PRAGMA journal_mode=DELETE")
            connection.execute("VACUUM")
            return n_dropped
        finally:
            close_writing(connection)


def _drop_all_but(connection: sqlite3.Connection, asked: Iterable[tuple[Place, int]]) -> int:
    """All or nothing; what follows from the rows follows them."""
    connection.execute(_ASKED_TABLE)
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.executemany(
            "INSERT OR IGNORE INTO asked VALUES (?, ?, ?, ?, ?)",
            [(*place, below) for place, below in asked],
        )
        n_dropped = connection.execute(f"DELETE FROM outcome WHERE {_UNASKED_OUTCOME}").rowcount
        connection.execute(f"DELETE FROM recording WHERE {_UNASKED_RECORDING}")
        if n_dropped:
            connection.execute("DELETE FROM stretch")
            fill_scores(connection)
            connection.execute("UPDATE run SET n_outcomes = 0")
            note_counts(connection)
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # a full disk has ended it already
            connection.execute("ROLLBACK")
        raise
    return n_dropped
