"""The questions that a reader asks the database; each one statement."""

import json
import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from solidcopy.campaigns.journal.coding import decode_decodes, decode_readings
from solidcopy.campaigns.journal.records import RunRecord
from solidcopy.campaigns.journal.schema import VERDICT_NUMBERS, VERDICTS
from solidcopy.statistics.tally import Tally
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.trial import Readings

_DECODED = VERDICT_NUMBERS[Verdict.DECODED]
_FAILED = VERDICT_NUMBERS[Verdict.FAILED]


class Place(NamedTuple):
    """One series of trials in the database: all key columns but the trial index."""

    curve: int
    receiver: int
    arm: int
    axis_value: float


_SERIES = "curve = ? AND receiver = ? AND arm = ? AND axis_value = ?"
_FULL_OUTCOMES = f"""
    SELECT o.trial_index, o.verdict, o.decodes, o.elapsed_s, o.failure, o.cpu_s,
        r.digest, r.readings
    FROM outcome AS o LEFT JOIN recording AS r USING (curve, arm, axis_value, trial_index)
    WHERE {_SERIES} AND trial_index"""


def data_version(connection: sqlite3.Connection) -> int:
    """A number that changes whenever another connection has written."""
    (version,) = connection.execute("PRAGMA data_version").fetchone()
    return int(version)


def n_without_gap(connection: sqlite3.Connection, place: Place, limit: int) -> int:
    """Length of the unbroken row of trial indexes 0, 1, 2, ... below `limit`."""
    n, last = connection.execute(
        f"SELECT count(*), max(trial_index) FROM outcome WHERE {_SERIES} AND trial_index < ?",
        (*place, limit),
    ).fetchone()
    if n == 0 or last == n - 1:
        return int(n)
    (first_gap,) = connection.execute(
        f"""SELECT min(place) FROM (
            SELECT trial_index, row_number() OVER (ORDER BY trial_index) - 1 AS place
            FROM outcome WHERE {_SERIES} AND trial_index < ?
        ) WHERE trial_index != place""",
        (*place, limit),
    ).fetchone()
    return int(first_gap)


def tally(connection: sqlite3.Connection, place: Place, n: int) -> Tally:
    """Counts of the trials with index below `n`. False decodes of failed trials do not count;
    where nothing was sent a trial counts as missed.
    """
    total = Tally()
    for verdict, n_trials, n_false_trials, n_false in connection.execute(
        f"""SELECT verdict, count(*), sum(n_false > 0), sum(n_false)
            FROM outcome WHERE {_SERIES} AND trial_index < ? GROUP BY verdict""",
        (*place, n),
    ):
        if verdict == _FAILED:
            total += Tally(n_failed=n_trials)
            continue
        decoded = n_trials if verdict == _DECODED else 0
        total += Tally(decoded, n_trials - decoded, 0, n_false_trials, n_false)
    return total


def flags(
    connection: sqlite3.Connection, place: Place, n: int
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether each trial below `n` was decoded, and whether it was scored; (n,) each."""
    decoded, scored = np.zeros(n, np.bool_), np.zeros(n, np.bool_)
    rows = connection.execute(
        f"SELECT trial_index, verdict FROM outcome WHERE {_SERIES} AND trial_index < ?",
        (*place, n),
    ).fetchall()
    if rows:
        index, verdict = np.array(rows, np.int64).T
        decoded[index] = verdict == _DECODED
        scored[index] = verdict != _FAILED
    return decoded, scored


def indexes(
    connection: sqlite3.Connection, place: Place, span: range, retry_before_run: int
) -> set[int]:
    """Trial indexes in `span` that have an outcome, except failures of runs before that one."""
    rows = connection.execute(
        f"""SELECT trial_index FROM outcome WHERE {_SERIES} AND trial_index BETWEEN ? AND ?
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


def all_readings(connection: sqlite3.Connection, place: Place, limit: int) -> Iterator[Readings]:
    """As `readings_by_index`, without the indexes."""
    return iter(readings_by_index(connection, place, limit).values())


def answer_times(connection: sqlite3.Connection, place: Place, limit: int) -> list[float]:
    """Seconds, of all trials below `limit` that did not fail."""
    rows = connection.execute(
        f"SELECT elapsed_s FROM outcome WHERE {_SERIES} AND trial_index < ? AND verdict != ?",
        (*place, limit, _FAILED),
    )
    return [elapsed_s for (elapsed_s,) in rows]


def runs(connection: sqlite3.Connection) -> list[RunRecord]:
    """All runs with the number of outcomes that each wrote."""
    rows: list[tuple[int, str, str | None, Any]] = connection.execute(
        """SELECT run.run, environment, settled_utc, n FROM run
           LEFT JOIN (SELECT run, count(*) AS n FROM outcome GROUP BY run) AS counted
           ON counted.run = run.run ORDER BY run.run"""
    ).fetchall()
    return [
        RunRecord(number, json.loads(environment), settled_utc, n or 0)
        for number, environment, settled_utc, n in rows
    ]
