"""Tables of a journal file, and the numbers that stand in them.

A recording is kept apart from the outcomes of the receivers that heard it, so that one trial
cannot have two different recordings. Rows are keyed by numbers that stand for identities
(`curve`, `receiver`), never by a place in a plan: a changed plan finds its old rows again.
"""

import sqlite3

from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import NOTHING_SENT, SENT

ARM_NUMBERS = {SENT: 0, NOTHING_SENT: 1}
ARMS = {number: arm for arm, number in ARM_NUMBERS.items()}
VERDICT_NUMBERS = {
    Verdict.DECODED: 0,
    Verdict.MISSED: 1,
    Verdict.FAILED: 2,
    Verdict.NOTHING_SENT: 3,
}
VERDICTS = {number: verdict for verdict, number in VERDICT_NUMBERS.items()}

STRETCH_TABLE = """CREATE TABLE stretch ( -- follows from outcome; see scores.py
    curve INTEGER NOT NULL,
    receiver INTEGER NOT NULL,
    arm INTEGER NOT NULL,
    axis_value REAL NOT NULL,
    stretch INTEGER NOT NULL, -- trial index divided by 128
    scores BLOB NOT NULL, -- four bytes a trial, little-endian
    PRIMARY KEY (curve, receiver, arm, axis_value, stretch)
) WITHOUT ROWID"""

REFUSED_TABLE = """CREATE TABLE refused ( -- follows from outcome; spares fits
    curve INTEGER NOT NULL,
    receiver INTEGER NOT NULL,
    n INTEGER NOT NULL, -- trials a point at the last look that was not precise enough
    key TEXT NOT NULL, -- SHA-256 of all that look depended on
    PRIMARY KEY (curve, receiver)
) WITHOUT ROWID"""

TABLES = (
    """CREATE TABLE curve (
        curve INTEGER PRIMARY KEY,
        identity TEXT NOT NULL UNIQUE -- SHA-256 of all that can alter a recording
    )""",
    """CREATE TABLE receiver (
        receiver INTEGER PRIMARY KEY,
        identity TEXT NOT NULL UNIQUE -- SHA-256 of all that can alter an answer
    )""",
    """CREATE TABLE run (
        run INTEGER PRIMARY KEY,
        plan TEXT NOT NULL, -- JSON; the last run's plan is the journal's
        curves TEXT NOT NULL, -- JSON: curve of each condition of the plan
        receivers TEXT NOT NULL, -- JSON: receiver of each receiver of the plan
        environment TEXT NOT NULL, -- JSON: versions, machine, start
        settled_utc TEXT, -- when this run last finished a whole block
        n_outcomes INTEGER NOT NULL DEFAULT 0 -- rows of outcome that name this run
    )""",
    """CREATE TABLE recording (
        curve INTEGER NOT NULL,
        arm INTEGER NOT NULL, -- 0 a message was sent, 1 nothing was sent
        axis_value REAL NOT NULL,
        trial_index INTEGER NOT NULL,
        digest BLOB NOT NULL, -- SHA-256 of the samples
        readings TEXT NOT NULL, -- JSON, order as in Readings and LevelReading
        PRIMARY KEY (curve, arm, axis_value, trial_index)
    ) WITHOUT ROWID""",
    """CREATE TABLE outcome (
        curve INTEGER NOT NULL,
        receiver INTEGER NOT NULL,
        arm INTEGER NOT NULL, -- 0 a message was sent, 1 nothing was sent
        axis_value REAL NOT NULL,
        trial_index INTEGER NOT NULL,
        verdict INTEGER NOT NULL, -- 0 decoded, 1 missed, 2 failed, 3 nothing sent
        n_false INTEGER NOT NULL,
        elapsed_s REAL NOT NULL,
        decodes TEXT, -- JSON {"right": decode or null, "false": [decodes]}; NULL if none
        failure TEXT,
        run INTEGER NOT NULL REFERENCES run,
        cpu_s REAL, -- processor time; NULL: unknown
        PRIMARY KEY (curve, receiver, arm, axis_value, trial_index)
    ) WITHOUT ROWID""",
    STRETCH_TABLE,
    REFUSED_TABLE,
)


def has_table(connection: sqlite3.Connection, name: str) -> bool:
    """Whether a journal has a table that journals of earlier versions lack."""
    found = connection.execute("SELECT 1 FROM main.sqlite_master WHERE name = ?", (name,))
    return found.fetchone() is not None
