"""Rows of several journals in a new one. Rows are keyed by identities, so nothing is renamed."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

from solidcopy.campaigns.journal.coding import canonical_decodes, compact_json
from solidcopy.campaigns.journal.scores import fill_scores, note_counts

_TEMP_TABLES = (
    "CREATE TEMP TABLE curve_of (theirs INTEGER PRIMARY KEY, ours INTEGER NOT NULL)",
    "CREATE TEMP TABLE receiver_of (theirs INTEGER PRIMARY KEY, ours INTEGER NOT NULL)",
    """CREATE TEMP TABLE unlike ( -- shared trials whose samples differ; our numbers
        curve INTEGER, arm INTEGER, axis_value REAL, trial_index INTEGER,
        PRIMARY KEY (curve, arm, axis_value, trial_index)
    ) WITHOUT ROWID""",
)
_TRIAL = "c.ours, t.arm, t.axis_value, t.trial_index"
_TRIAL_NAMED = "c.ours AS curve, t.arm, t.axis_value, t.trial_index"
# CROSS JOIN keeps the order: their rows are read through, ours are looked up by their key.
_THEIR_RECORDINGS = "theirs.recording AS t CROSS JOIN curve_of AS c ON c.theirs = t.curve"
_SHARED_RECORDINGS = f"""{_THEIR_RECORDINGS} CROSS JOIN main.recording AS o
    ON (o.curve, o.arm, o.axis_value, o.trial_index) = ({_TRIAL})"""
_THEIR_OUTCOMES = """theirs.outcome AS t CROSS JOIN curve_of AS c ON c.theirs = t.curve
    CROSS JOIN receiver_of AS r ON r.theirs = t.receiver"""
_SHARED_OUTCOMES = f"""{_THEIR_OUTCOMES} CROSS JOIN main.outcome AS o
    ON (o.curve, o.receiver, o.arm, o.axis_value, o.trial_index)
     = (c.ours, r.ours, t.arm, t.axis_value, t.trial_index)"""
_OTHER_VERDICT = "(o.verdict, o.n_false) != (t.verdict, t.n_false)"
_OTHER_FIGURES = f"""(NOT {_OTHER_VERDICT} AND o.decodes IS NOT t.decodes
    AND canonical(o.decodes) IS NOT canonical(t.decodes))"""


class TrialPlace(NamedTuple):
    """One trial, whatever journal it is in."""

    curve_identity: str
    arm: int
    axis_value: float
    trial_index: int


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What came from a journal, and what it says of trials that those before it hold as well."""

    n_added: int
    """Outcomes that came from it."""
    n_recordings: int
    """In it and in those before."""
    n_other_samples: int
    """Of those."""
    n_answers: int
    """In it and in those before."""
    n_other_verdicts: int
    """Another verdict, or another number of false decodes."""
    n_other_figures: int
    """The same verdict, but other texts, frequencies, times or levels reported."""
    first_unlike: TrialPlace | None

    @property
    def agrees(self) -> bool:
        """Whether all that is in both is the same, but for how long it took."""
        return self.first_unlike is None


class Merging:
    """A journal that takes the rows of others in, one after another; what is there stays.

    Used with a new file that nobody else knows: if the program is killed, it is worth nothing.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        """`connection`: to the new journal, open for writing."""
        self._connection = connection
        connection.create_function("canonical", 1, canonical_decodes, deterministic=True)
        for table in _TEMP_TABLES:
            connection.execute(table)

    def take_in(self, path: Path, *, after_run: int) -> TakenIn:
        """Add all rows of a journal that are not there yet, but none of a trial whose recording
        is there with other samples: those answers are to another recording.

        Args:
            path: of a journal of today's format that nobody writes.
            after_run: the number to which those of its runs are added.
        """
        with self._attached(path):
            self._number_identities()
            taken_in = self._compared()
            self._insert_runs(after_run)
            return replace(taken_in, n_added=self._insert_rows(after_run))

    def finish(self) -> None:
        """Work out what follows from the rows."""
        self._connection.execute("BEGIN")
        note_counts(self._connection)
        fill_scores(self._connection)
        self._connection.execute("COMMIT")

    @contextmanager
    def _attached(self, path: Path) -> Iterator[None]:
        self._connection.execute("ATTACH ? AS theirs", (str(path),))
        try:
            self._connection.execute("BEGIN")
            yield
            self._connection.execute("COMMIT")
        finally:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            self._connection.execute("DETACH theirs")

    def _number_identities(self) -> None:
        for table in ("curve", "receiver"):
            self._connection.execute(
                f"INSERT OR IGNORE INTO main.{table} (identity) SELECT identity FROM theirs.{table}"
            )
            self._connection.execute(f"DELETE FROM {table}_of")
            self._connection.execute(
                f"INSERT INTO {table}_of SELECT t.{table}, o.{table} FROM theirs.{table} AS t "
                f"JOIN main.{table} AS o USING (identity)"
            )

    def _compared(self) -> TakenIn:
        self._connection.execute("DELETE FROM unlike")
        self._connection.execute(
            f"INSERT INTO unlike SELECT {_TRIAL} FROM {_SHARED_RECORDINGS} "
            "WHERE o.digest != t.digest"
        )
        (n_recordings,) = self._row(f"SELECT count(*) FROM {_SHARED_RECORDINGS}")
        (n_other_samples,) = self._row("SELECT count(*) FROM unlike")
        n_answers, n_other_verdicts, n_other_figures = self._row(
            f"SELECT count(*), total({_OTHER_VERDICT}), total({_OTHER_FIGURES}) "
            f"FROM {_SHARED_OUTCOMES}"
        )
        first = None
        if n_other_samples:
            first = self._first("unlike")
        elif n_other_verdicts or n_other_figures:
            found = f"{_SHARED_OUTCOMES} WHERE {_OTHER_VERDICT} OR {_OTHER_FIGURES} LIMIT 1"
            first = self._first(f"(SELECT {_TRIAL_NAMED} FROM {found})")
        return TakenIn(
            n_added=0,
            n_recordings=n_recordings,
            n_other_samples=n_other_samples,
            n_answers=n_answers,
            n_other_verdicts=int(n_other_verdicts),
            n_other_figures=int(n_other_figures),
            first_unlike=first,
        )

    def _first(self, trials: str) -> TrialPlace:
        return TrialPlace(
            *self._row(
                "SELECT identity, arm, axis_value, trial_index "
                f"FROM {trials} JOIN main.curve USING (curve) LIMIT 1"
            )
        )

    def _row(self, question: str) -> tuple[Any, ...]:
        row: tuple[Any, ...] = self._connection.execute(question).fetchone()
        return row

    def _insert_rows(self, after_run: int) -> int:
        """Number of outcomes added."""
        self._connection.execute(
            f"INSERT OR IGNORE INTO main.recording SELECT {_TRIAL}, t.digest, t.readings "
            f"FROM {_THEIR_RECORDINGS}"
        )
        return self._connection.execute(
            f"""INSERT OR IGNORE INTO main.outcome
                SELECT c.ours, r.ours, t.arm, t.axis_value, t.trial_index, t.verdict, t.n_false,
                    t.elapsed_s, t.decodes, t.failure, t.run + ?, t.cpu_s
                FROM {_THEIR_OUTCOMES} WHERE ({_TRIAL}) NOT IN unlike""",
            (after_run,),
        ).rowcount

    def _insert_runs(self, after_run: int) -> None:
        """Their runs, with the numbers of curves and receivers that they have here."""
        execute = self._connection.execute
        number_of = {
            table: dict(execute(f"SELECT theirs, ours FROM {table}_of").fetchall())
            for table in ("curve", "receiver")
        }
        runs = execute(
            "SELECT run, plan, curves, receivers, environment, settled_utc FROM theirs.run"
        ).fetchall()
        for run, plan, curves, receivers, environment, settled_utc in runs:
            ours = [
                compact_json([number_of[table][theirs] for theirs in json.loads(numbers)])
                for table, numbers in (("curve", curves), ("receiver", receivers))
            ]
            execute(
                "INSERT INTO main.run (run, plan, curves, receivers, environment, settled_utc) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (run + after_run, plan, *ours, environment, settled_utc),
            )
