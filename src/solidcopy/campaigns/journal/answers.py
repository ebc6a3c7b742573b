"""What one receiver answered, trial by trial, as columns."""

import json
import sqlite3
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.tables import VERDICT_NUMBERS
from solidcopy.trials.outcome import Verdict

_DECODED = VERDICT_NUMBERS[Verdict.DECODED]
_FAILED = VERDICT_NUMBERS[Verdict.FAILED]


@dataclass(frozen=True, slots=True, eq=False)
class Answers:
    """Answers to the trials 0, 1, 2, ... of one point; (n,) each.

    Args:
        decoded: the message was among the decodes; False where nothing was sent.
        failed: the receiver gave no answer.
        has_false: something was reported that nobody sent.
        elapsed_s: time that passed.
        cpu_s: processor time; NaN where it is not known.
        reported_snr_db: of the right decode, in 2500 Hz; NaN where there is none.
    """

    decoded: NDArray[np.bool_]
    failed: NDArray[np.bool_]
    has_false: NDArray[np.bool_]
    elapsed_s: NDArray[np.float64]
    cpu_s: NDArray[np.float64]
    reported_snr_db: NDArray[np.float64]

    @property
    def n(self) -> int:
        """Number of trials."""
        return self.decoded.size

    def first(self, n: int) -> "Answers":
        """The first `n` trials only."""
        return Answers(*(getattr(self, field.name)[:n] for field in fields(self)))


def read_answers(connection: sqlite3.Connection, place: Place, n: int) -> Answers:
    """Answers to the trials with index below `n`, none of which may be missing."""
    rows = connection.execute(
        "SELECT verdict, n_false, elapsed_s, cpu_s, decodes FROM outcome WHERE curve = ? "
        "AND receiver = ? AND arm = ? AND axis_value = ? AND trial_index < ? ORDER BY trial_index",
        (*place, n),
    ).fetchall()
    verdict = np.array([row[0] for row in rows], np.int64)
    failed = verdict == _FAILED
    return Answers(
        decoded=verdict == _DECODED,
        failed=failed,
        has_false=np.array([row[1] > 0 for row in rows], np.bool_) & ~failed,
        elapsed_s=np.array([row[2] for row in rows], np.float64),
        cpu_s=np.array([row[3] for row in rows], np.float64),  # None becomes NaN
        reported_snr_db=np.array([_reported_snr_db(row[4]) for row in rows], np.float64),
    )


def _reported_snr_db(decodes: str | None) -> float:
    right = None if decodes is None else json.loads(decodes)["right"]
    return float("nan") if right is None else float(right.get("snr_db", "nan"))
