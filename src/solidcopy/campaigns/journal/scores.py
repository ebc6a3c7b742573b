"""How the trials of one series ended, as one number a trial.

Beside the rows of `outcome` a journal keeps these numbers in short stretches, written in the same
transaction. A row is long (decodes, times) and a campaign has millions: counts, pairs and lists of
trials are read from here, hundreds of times quicker than from the rows. The rows remain the truth:
a journal of format 1 has no stretches, and there the same numbers are read from its rows.
"""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from solidcopy.campaigns.journal.place import SERIES, Place
from solidcopy.campaigns.journal.tables import VERDICT_NUMBERS, VERDICTS, has_table
from solidcopy.statistics.tally import Tally
from solidcopy.trials.outcome import Verdict

STRETCH_TRIALS = 128
"""A stretch must fit well into a page of the database, and is written anew for each batch."""

_DTYPE = np.dtype("<u4")
_VERDICT_BITS = 3
_VERDICT_MASK = np.uint32((1 << _VERDICT_BITS) - 1)
_DECODED = VERDICT_NUMBERS[Verdict.DECODED]
_FAILED = VERDICT_NUMBERS[Verdict.FAILED]

Numbers = NDArray[np.uint32]
"""By trial index: 0 where there is no outcome, else as from `score_of`."""


def score_of(verdict_number: int, n_false: int) -> int:
    """Verdict and number of false decodes in one number, never 0."""
    return verdict_number + 1 | n_false << _VERDICT_BITS


@dataclass(frozen=True, slots=True, eq=False)
class Scores:
    """How the trials 0, 1, 2, ... of one series ended.

    Args:
        numbers: (n,), as `score_of` says; 0 where there is no outcome. Not to be changed.
    """

    numbers: Numbers

    @property
    def n(self) -> int:
        """Trial indexes looked at, with an outcome or not."""
        return self.numbers.size

    def first(self, n: int) -> "Scores":
        """Of trials with index below `n` only."""
        return Scores(self.numbers[:n])

    def padded(self, n: int) -> "Scores":
        """The first `n` trials, those behind the last outcome as not there."""
        numbers = np.zeros(n, np.uint32)
        numbers[: min(n, self.n)] = self.numbers[:n]
        return Scores(numbers)

    def at(self, indexes: NDArray[np.int64]) -> "Scores":
        """Of these trials only, in this order; every index below `n`."""
        return Scores(self.numbers[indexes])

    @property
    def is_there(self) -> NDArray[np.bool_]:
        """Whether each trial has an outcome, (n,)."""
        return np.not_equal(self.numbers, 0)

    @property
    def verdict_numbers(self) -> NDArray[np.int64]:
        """As in `schema.VERDICTS`, (n,); −1 where there is no outcome."""
        return self._marks.astype(np.int64) - 1

    @property
    def _marks(self) -> Numbers:
        """Verdict number and one, 0 where there is no outcome: half as long as other integers."""
        return self.numbers & _VERDICT_MASK

    @property
    def n_false(self) -> NDArray[np.int64]:
        """False decodes, those of failed trials included, (n,)."""
        return (self.numbers >> _VERDICT_BITS).astype(np.int64)

    @property
    def is_decoded(self) -> NDArray[np.bool_]:
        """(n,)."""
        return np.equal(self._marks, _DECODED + 1)

    @property
    def is_missed(self) -> NDArray[np.bool_]:
        """There, answered and not decoded, nothing sent included, (n,)."""
        return self.is_scored & ~self.is_decoded

    @property
    def is_failed(self) -> NDArray[np.bool_]:
        """The receiver gave no answer, (n,)."""
        return np.equal(self._marks, _FAILED + 1)

    @property
    def is_scored(self) -> NDArray[np.bool_]:
        """There and not failed, (n,)."""
        return self.is_there & ~self.is_failed

    @property
    def has_false(self) -> NDArray[np.bool_]:
        """Something was reported that nobody sent; False where the trial failed, (n,)."""
        return (self.n_false > 0) & ~self.is_failed

    @property
    def verdicts(self) -> tuple[Verdict | None, ...]:
        """As words; None where there is no outcome. For pages, not for whole series."""
        numbers = self.verdict_numbers.tolist()
        return tuple(None if number < 0 else VERDICTS[number] for number in numbers)

    def n_without_gap(self, limit: int) -> int:
        """Length of the unbroken row of trial indexes 0, 1, 2, ... below `limit`."""
        missing = np.flatnonzero(self.numbers[:limit] == 0)
        return int(missing[0]) if missing.size else min(limit, self.n)

    def tally(self) -> Tally:
        """Counts of all that are there. False decodes of failed trials do not count; where nothing
        was sent a trial counts as missed.
        """
        n_decoded, n_failed = (int(np.count_nonzero(f)) for f in (self.is_decoded, self.is_failed))
        # Few trials have false decodes: only those are looked at again.
        with_false = Scores(self.numbers[self.numbers > _VERDICT_MASK])
        n_false = with_false.n_false[with_false.is_scored]
        return Tally(
            n_decoded,
            int(np.count_nonzero(self.numbers)) - n_decoded - n_failed,
            n_failed,
            n_false.size,
            int(n_false.sum()),
        )


class ScoreShelf:
    """Scores of one journal, read once as long as nothing is written: four bytes a trial."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        """`connection`: to the journal."""
        self._connection = connection
        self._read = read_scores if has_table(connection, "stretch") else count_scores
        self._version = -1
        self._held: dict[Place, Scores] = {}

    def version(self) -> int:
        """A number that changes whenever another connection has written."""
        (version,) = self._connection.execute("PRAGMA data_version").fetchone()
        return int(version)

    def forget(self) -> None:
        """Let go of all that is held."""
        self._held = {}

    def of(self, place: Place) -> Scores:
        """Of one series."""
        version = self.version()
        if version != self._version:
            self._version, self._held = version, {}
        if place not in self._held:
            self._held[place] = self._read(self._connection, place)
        return self._held[place]


def read_scores(connection: sqlite3.Connection, place: Place) -> Scores:
    """Of one series, from what is kept beside the rows."""
    rows = connection.execute(
        f"SELECT stretch, scores FROM stretch WHERE {SERIES} ORDER BY stretch", place
    ).fetchall()
    return Scores(_joined(rows))


def count_scores(connection: sqlite3.Connection, place: Place) -> Scores:
    """The same, from the rows themselves."""
    rows = connection.execute(
        f"SELECT trial_index, verdict, n_false FROM outcome WHERE {SERIES}", place
    ).fetchall()
    if not rows:
        return Scores(np.zeros(0, np.uint32))
    index, verdict, n_false = np.array(rows, np.int64).T
    numbers = np.zeros(int(index.max()) + 1, np.uint32)
    numbers[index] = verdict + 1 | n_false << _VERDICT_BITS
    return Scores(numbers)


def _joined(rows: list[tuple[int, bytes]]) -> Numbers:
    if not rows:
        return np.zeros(0, np.uint32)
    last, scores = rows[-1]
    numbers = np.zeros(last * STRETCH_TRIALS + len(scores) // _DTYPE.itemsize, np.uint32)
    for stretch, scores in rows:
        own = np.frombuffer(scores, _DTYPE)
        numbers[stretch * STRETCH_TRIALS :][: own.size] = own
    return numbers


def write_scores(connection: sqlite3.Connection, written: Iterable[tuple[Place, int, int]]) -> None:
    """Keep scores of rows that are written in the same transaction.

    Args:
        written: place, trial index and score each.
    """
    by_stretch: defaultdict[tuple[int | float, ...], dict[int, int]] = defaultdict(dict)
    for place, index, score in written:
        stretch, offset = divmod(index, STRETCH_TRIALS)
        by_stretch[*place, stretch][offset] = score
    for key, scores in by_stretch.items():
        found = connection.execute(
            f"SELECT scores FROM stretch WHERE {SERIES} AND stretch = ?", key
        ).fetchone()
        connection.execute(
            "INSERT OR REPLACE INTO stretch VALUES (?, ?, ?, ?, ?, ?)",
            (*key, _changed(b"" if found is None else found[0], scores)),
        )


def _changed(before: bytes, scores: Mapping[int, int]) -> bytes:
    kept = np.frombuffer(before, _DTYPE)
    after = np.zeros(max(kept.size, max(scores) + 1), _DTYPE)
    after[: kept.size] = kept
    after[list(scores)] = list(scores.values())
    return after.tobytes()


def count_by_run(connection: sqlite3.Connection) -> dict[int, int]:
    """Rows that name each run, from all rows."""
    return dict(connection.execute("SELECT run, count(*) FROM outcome GROUP BY run"))


def note_counts(connection: sqlite3.Connection) -> None:
    """Keep with each run how many rows name it, in the caller's transaction."""
    connection.executemany(
        "UPDATE run SET n_outcomes = ? WHERE run = ?",
        [(n, run) for run, n in count_by_run(connection).items()],
    )


def fill_scores(connection: sqlite3.Connection) -> None:
    """Make the scores of a journal that has rows only, in the caller's transaction."""
    rows = connection.execute(
        "SELECT curve, receiver, arm, axis_value, trial_index, verdict, n_false FROM outcome "
        "ORDER BY curve, receiver, arm, axis_value, trial_index"
    )
    connection.executemany("INSERT INTO stretch VALUES (?, ?, ?, ?, ?, ?)", _stretches(rows))


def _stretches(rows: Iterable[tuple[int, ...]]) -> Iterator[tuple[int | float | bytes, ...]]:
    for key, group in groupby(rows, lambda row: (*row[:4], row[4] // STRETCH_TRIALS)):
        scores = {row[4] % STRETCH_TRIALS: score_of(row[5], row[6]) for row in group}
        yield *key, _changed(b"", scores)
