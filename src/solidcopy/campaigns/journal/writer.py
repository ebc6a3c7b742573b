"""The one writer of a journal."""

import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

from solidcopy.campaigns.environment import Environment
from solidcopy.campaigns.journal.coding import compact_json, encode_decodes, encode_readings
from solidcopy.campaigns.journal.lock import WriterLock
from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.records import Finished
from solidcopy.campaigns.journal.schema import (
    JOURNAL_FILE,
    close_writing,
    open_for_writing,
    sentences,
)
from solidcopy.campaigns.journal.scores import score_of, write_scores
from solidcopy.campaigns.journal.tables import ARM_NUMBERS, VERDICT_NUMBERS
from solidcopy.campaigns.stop import CurvePlaces, Refused
from solidcopy.errors import JournalError
from solidcopy.trials.identity import curve_identity, receiver_identity
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan

_FAILED = VERDICT_NUMBERS[Verdict.FAILED]
_ONE_OUTCOME = "WHERE curve = ? AND receiver = ? AND arm = ? AND axis_value = ? AND trial_index = ?"


class JournalWriter:
    """Appends outcomes; nothing once written is changed, except failures that are retried.

    Contract:
    - One writer at a time for a folder; the second is refused while the first lives.
    - `append` writes all given outcomes or none of them. Once it has returned, they survive the
      end of the program; after `settle` they survive the loss of power as well.
    - An outcome that is there already is left alone; if its verdict or its recording differs,
      JournalError, as trials must be repeatable.
    - A changed plan keeps all rows whose identities still match.
    - Used by one thread at a time.
    """

    def __init__(
        self, folder: Path, plan: Plan, environment: Environment, *, retry_failed: bool = False
    ) -> None:
        """Open or make the journal in `folder` and register a run of `plan`.

        Args:
            folder: of the campaign; made if missing.
            plan: may differ from the last run's, as long as a curve with outcomes is left.
            environment: of this run.
            retry_failed: an outcome FAILED in an earlier run may be replaced.
        Raises: JournalError if the journal is locked, damaged or another plan's.
        """
        self._path = folder / JOURNAL_FILE
        self._retry_failed = retry_failed
        try:
            folder.mkdir(parents=True, exist_ok=True)
            lock = WriterLock(folder)
        except OSError as error:
            raise JournalError(
                f"{folder}: cannot be used as campaign folder ({error.strerror}); choose another"
            ) from None
        with ExitStack() as opened:
            opened.enter_context(lock)
            with sentences(self._path):
                self._connection = open_for_writing(self._path)
                opened.callback(close_writing, self._connection)
                self._register(plan, environment)
            self._opened = opened.pop_all()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file and let the next writer in. Safe to call twice."""
        self._opened.close()

    @property
    def run(self) -> int:
        """Number of this run in the journal, from 1."""
        return self._run

    def append(self, finished: Iterable[Finished]) -> None:
        """Write outcomes in one transaction. Raises JournalError on a contradiction."""
        with sentences(self._path), self._transaction():
            written = []
            for item in finished:
                self._keep_recording(item)
                if self._keep_outcome(item):
                    written.append(self._score(item))
            write_scores(self._connection, written)
            self._count(len(written))

    def keep_environment(self, environment: Environment) -> None:
        """Keep what this run is made with, as far as it is known now."""
        with sentences(self._path), self._transaction():
            self._connection.execute(
                "UPDATE run SET environment = ? WHERE run = ?",
                (compact_json(asdict(environment)), self._run),
            )

    def keep_refused(self, looks: Mapping[CurvePlaces, Refused]) -> None:
        """Keep what is known of each curve's precision (`JournalReader.refused`)."""
        with sentences(self._path), self._transaction():
            self._connection.executemany(
                "INSERT OR REPLACE INTO refused VALUES (?, ?, ?, ?)",
                [
                    (self._curves[condition], self._receivers[receiver], look.n, look.key)
                    for (condition, receiver), look in looks.items()
                ],
            )

    def settle(self) -> None:
        """Have everything written so far forced to the disk: at the end of each block."""
        now = datetime.now(UTC).isoformat(timespec="seconds")
        with sentences(self._path):
            self._connection.execute("PRAGMA synchronous=FULL")
            self._connection.execute(
                "UPDATE run SET settled_utc = ? WHERE run = ?", (now, self._run)
            )
            self._connection.execute("PRAGMA synchronous=NORMAL")

    def _register(self, plan: Plan, environment: Environment) -> None:
        curves = [curve_identity(plan, condition) for condition in plan.conditions]
        receivers = [receiver_identity(receiver) for receiver in plan.receivers]
        with self._transaction():
            self._refuse_another_question(plan, curves)
            self._curves = [self._number_of("curve", identity) for identity in curves]
            self._receivers = [self._number_of("receiver", identity) for identity in receivers]
            cursor = self._connection.execute(
                "INSERT INTO run (plan, curves, receivers, environment) VALUES (?, ?, ?, ?)",
                (
                    compact_json(plan.model_dump(mode="json")),
                    compact_json(self._curves),
                    compact_json(self._receivers),
                    compact_json(asdict(environment)),
                ),
            )
        assert cursor.lastrowid is not None
        self._run = cursor.lastrowid

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._connection.execute("COMMIT")
        except BaseException:
            if self._connection.in_transaction:  # a full disk has ended it already
                self._connection.execute("ROLLBACK")
            raise

    def _refuse_another_question(self, plan: Plan, curves: list[str]) -> None:
        """JournalError if the journal has outcomes and none of them serves this plan."""
        found = self._connection.execute(
            "SELECT identity FROM curve WHERE curve IN (SELECT DISTINCT curve FROM outcome)"
        ).fetchall()
        known = {identity for (identity,) in found}
        if not known or known & set(curves):
            return
        (old_plan,) = self._connection.execute(
            "SELECT plan FROM run ORDER BY run DESC LIMIT 1"
        ).fetchone()
        old_seed = json.loads(old_plan)["root_seed"]
        reason = (
            f"its root_seed is {old_seed}, the plan's is {plan.root_seed}"
            if old_seed != plan.root_seed
            else "none of its conditions is in the plan as it stands now"
        )
        raise JournalError(
            f"{self._path}: holds the outcomes of another plan: {reason}; choose a new folder for "
            "this plan, or undo the change"
        )

    def _number_of(self, table: str, identity: str) -> int:
        self._connection.execute(
            f"INSERT OR IGNORE INTO {table} (identity) VALUES (?)", (identity,)
        )
        (number,) = self._connection.execute(
            f"SELECT {table} FROM {table} WHERE identity = ?", (identity,)
        ).fetchone()
        return int(number)

    def _keep_recording(self, item: Finished) -> None:
        outcome, key = item.outcome, item.key
        if outcome.readings is None:
            return
        digest = bytes.fromhex(outcome.digest)
        place = (
            self._curves[key.condition],
            ARM_NUMBERS[key.arm],
            key.axis_value + 0.0,
            key.trial_index,
        )
        cursor = self._connection.execute(
            "INSERT OR IGNORE INTO recording VALUES (?, ?, ?, ?, ?, ?)",
            (*place, digest, encode_readings(outcome.readings)),
        )
        if cursor.rowcount == 1:
            return
        (old_digest,) = self._connection.execute(
            "SELECT digest FROM recording WHERE curve = ? AND arm = ? AND axis_value = ? "
            "AND trial_index = ?",
            place,
        ).fetchone()
        if old_digest != digest:
            raise JournalError(
                f"{self._path}: trial {key} now gives other samples than when it was first run; "
                "use the library versions that the journal names, or start in a new folder"
            )

    def _place(self, item: Finished) -> Place:
        key = item.key
        return Place(
            self._curves[key.condition],
            self._receivers[item.receiver],
            ARM_NUMBERS[key.arm],
            key.axis_value + 0.0,
        )

    def _score(self, item: Finished) -> tuple[Place, int, int]:
        outcome = item.outcome
        score = score_of(VERDICT_NUMBERS[outcome.verdict], len(outcome.false))
        return self._place(item), item.key.trial_index, score

    def _count(self, n_more: int, *, run: int | None = None) -> None:
        """Note that so many more rows name a run, this one unless told otherwise."""
        self._connection.execute(
            "UPDATE run SET n_outcomes = n_outcomes + ? WHERE run = ?", (n_more, run or self._run)
        )

    def _keep_outcome(self, item: Finished) -> bool:
        """Whether its row was written; not if it is there already."""
        outcome, key = item.outcome, item.key
        place = (*self._place(item), key.trial_index)
        values = (
            VERDICT_NUMBERS[outcome.verdict],
            len(outcome.false),
            outcome.elapsed_s,
            encode_decodes(outcome),
            outcome.failure,
            self._run,
            outcome.cpu_s,
        )
        cursor = self._connection.execute(
            "INSERT OR IGNORE INTO outcome VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            place + values,
        )
        if cursor.rowcount == 1:
            return True
        verdict, run = self._connection.execute(
            f"SELECT verdict, run FROM outcome {_ONE_OUTCOME}", place
        ).fetchone()
        if self._retry_failed and verdict == _FAILED and run < self._run:
            self._connection.execute(
                "UPDATE outcome SET verdict = ?, n_false = ?, elapsed_s = ?, decodes = ?, "
                f"failure = ?, run = ?, cpu_s = ? {_ONE_OUTCOME}",
                values + place,
            )
            self._count(-1, run=run)
            return True
        if verdict != values[0]:
            raise JournalError(
                f"{self._path}: trial {key} was scored otherwise before, with the same recording; "
                "a receiver must answer the same way each time: give a changed receiver another "
                "`version`, or start in a new folder"
            )
        return False
