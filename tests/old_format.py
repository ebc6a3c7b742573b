"""Journals as earlier versions of the program left them, made from those of today."""

import sqlite3
from contextlib import closing
from pathlib import Path


def as_format_1(folder: Path) -> Path:
    """Turn a campaign's journal into what the first versions left; its folder."""
    with closing(sqlite3.connect(folder / "journal.sqlite", isolation_level=None)) as connection:
        connection.execute("DROP TABLE stretch")
        connection.execute("DROP TABLE refused")
        connection.execute("ALTER TABLE run DROP COLUMN n_outcomes")
        connection.execute("PRAGMA user_version = 1")
    return folder
