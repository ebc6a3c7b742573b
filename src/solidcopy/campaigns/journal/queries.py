"""The questions that a reader asks the database; each one statement."""

import hashlib
import json
import sqlite3
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from solidcopy.campaigns.journal.coding import decode_decodes, decode_readings
from solidcopy.campaigns.journal.fingerprint import StoredOutcome
from solidcopy.campaigns.journal.place import SERIES, Place
from solidcopy.campaigns.journal.records import RunRecord
from solidcopy.campaigns.journal.scores import count_by_run
from solidcopy.campaigns.journal.tables import VERDICT_NUMBERS, VERDICTS, has_table
from solidcopy.campaigns.stop import Refused
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.trial import Readings

_FAILED = VERDICT_NUMBERS[Verdict.FAILED]
MOST_KEYS = 500
"""In one question; SQLite takes 999 parameters at least."""


_FULL_OUTCOMES = f"""
    SELECT o.trial_index, o.verdict, o.decodes, o.elapsed_s, o.failure, o.cpu_s,
        r.digest, r.readings
    FROM outcome AS o LEFT JOIN recording AS r USING (curve, arm, axis_value, trial_index)
    WHERE {SERIES} AND trial_index"""


def indexes(
    connection: sqlite3.Connection, place: Place, span: range, retry_before_run: int
) -> set[int]:
    """Trial indexes in `span` that have an outcome, except failures of runs before that one."""
    rows = connection.execute(
        f"""SELECT trial_index FROM outcome WHERE {SERIES} AND trial_index BETWEEN ? AND ?
            AND NOT (verdict = ? AND run < ?)""",
        (*place, span.start, span.stop - 1, _FAILED, retry_before_run),
    )
    return {index for (index,) in rows}


def one_outcome(connection: sqlite3.Connection, place: Place, index: int) -> Outcome | None:
    """Of one trial, None if it was not run."""
    row = connection.execute(f"{_FULL_OUTCOMES} = ?", (*place, index)).fetchone()
    return None if row is None else _outcome(row[1:])


def outcomes(
    connection: sqlite3.Connection, place: Place, limit: int
) -> Iterator[tuple[int, Outcome]]:
    """Index and outcome of all trials below `limit`, ascending."""
    rows = connection.execute(f"{_FULL_OUTCOMES} < ? ORDER BY trial_index", (*place, limit))
    for index, *columns in rows:
        yield index, _outcome(columns)


def stored_outcomes(
    connection: sqlite3.Connection, place: Place, limit: int
) -> Iterator[StoredOutcome]:
    """All trials below `limit`, ascending, as they are stored."""
    rows = connection.execute(
        f"""SELECT o.trial_index, o.verdict, o.decodes, o.failure, r.digest, r.readings
            FROM outcome AS o LEFT JOIN recording AS r USING (curve, arm, axis_value, trial_index)
            WHERE {SERIES} AND trial_index < ? ORDER BY trial_index""",
        (*place, limit),
    )
    return map(StoredOutcome._make, rows)


def _outcome(columns: Sequence[Any]) -> Outcome:
    verdict, decodes, elapsed_s, failure, cpu_s, digest, readings = columns
    right, false = decode_decodes(decodes)
    return Outcome(
        verdict=VERDICTS[verdict],
        right=right,
        false=false,
        elapsed_s=elapsed_s,
        digest="" if digest is None else digest.hex(),
        readings=None if readings is None else decode_readings(readings),
        failure=failure,
        cpu_s=cpu_s,
    )


def identities(connection: sqlite3.Connection, curve: int, receiver: int) -> tuple[str, str]:
    """Of a curve's recordings and of a receiver's answers."""
    (of_curve,) = connection.execute(
        "SELECT identity FROM curve WHERE curve = ?", (curve,)
    ).fetchone()
    (of_receiver,) = connection.execute(
        "SELECT identity FROM receiver WHERE receiver = ?", (receiver,)
    ).fetchone()
    return of_curve, of_receiver


def readings_by_index(
    connection: sqlite3.Connection, place: Place, limit: int
) -> dict[int, Readings]:
    """Of every recording of a series, whichever receivers heard it, by trial index."""
    rows = connection.execute(
        "SELECT trial_index, readings FROM recording WHERE curve = ? AND arm = ? "
        "AND axis_value = ? AND trial_index < ? ORDER BY trial_index",
        (place.curve, place.arm, place.axis_value, limit),
    )
    return {index: decode_readings(text) for index, text in rows}


def answer_times(connection: sqlite3.Connection, place: Place, limit: int) -> list[float]:
    """Seconds, of all trials below `limit` that did not fail."""
    rows = connection.execute(
        f"SELECT elapsed_s FROM outcome WHERE {SERIES} AND trial_index < ? AND verdict != ?",
        (*place, limit, _FAILED),
    )
    return [elapsed_s for (elapsed_s,) in rows]


def refused(connection: sqlite3.Connection, curve: int, receiver: int) -> Refused | None:
    """What an earlier run found out of a curve's precision."""
    if not has_table(connection, "refused"):
        return None
    row = connection.execute(
        "SELECT n, key FROM refused WHERE curve = ? AND receiver = ?", (curve, receiver)
    ).fetchone()
    return None if row is None else Refused(*row)


def failures(
    connection: sqlite3.Connection, place: Place, indexes: Sequence[int]
) -> dict[str, int]:
    """Reasons of these trials, all of them failed, and how often each was given.

    Each row is found by its key: a series is long and few trials fail.
    """
    reasons: Counter[str] = Counter()
    for first in range(0, len(indexes), MOST_KEYS):
        some = indexes[first : first + MOST_KEYS]
        rows = connection.execute(
            f"""SELECT coalesce(failure, '') FROM outcome
                WHERE {SERIES} AND trial_index IN ({", ".join("?" * len(some))})""",
            (*place, *some),
        )
        reasons.update(reason for (reason,) in rows)
    return reasons


def content_version(connection: sqlite3.Connection) -> str:
    """Hash of all runs: their plans, machines and starts, and how much each of them wrote."""
    rows = connection.execute("SELECT run, plan, environment, settled_utc FROM run ORDER BY run")
    state = [*rows.fetchall(), *sorted(_outcomes_by_run(connection).items())]
    return hashlib.sha256(repr(state).encode()).hexdigest()


def _outcomes_by_run(connection: sqlite3.Connection) -> dict[int, int]:
    """Of every run that has any."""
    if has_table(connection, "stretch"):
        return dict(connection.execute("SELECT run, n_outcomes FROM run WHERE n_outcomes > 0"))
    return count_by_run(connection)


def runs(connection: sqlite3.Connection) -> list[RunRecord]:
    """All runs with the number of outcomes that each wrote."""
    counted = _outcomes_by_run(connection)
    rows: list[tuple[int, str, str | None]] = connection.execute(
        "SELECT run, environment, settled_utc FROM run ORDER BY run"
    ).fetchall()
    return [
        RunRecord(number, json.loads(environment), settled_utc, counted.get(number, 0))
        for number, environment, settled_utc in rows
    ]
