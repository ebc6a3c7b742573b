"""What a journal says, read without disturbing its writer.

Only trials that the plan asks for count, and of each point only those before the first trial
that is still missing: a campaign in progress is never read through its quick trials alone.
"""

import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import product
from pathlib import Path
from typing import Self

import numpy as np

from solidcopy.campaigns.journal import queries
from solidcopy.campaigns.journal.answers import Answers, read_answers
from solidcopy.campaigns.journal.contents import read_contents
from solidcopy.campaigns.journal.fingerprint import fingerprint_of
from solidcopy.campaigns.journal.first_trials import Flagged, TrialsAsked
from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.records import (
    ElapsedSummary,
    FalseDecodes,
    JournalRow,
    LevelSummary,
    RunRecord,
)
from solidcopy.campaigns.journal.schema import JOURNAL_FILE, open_for_reading, sentences
from solidcopy.campaigns.journal.scores import Scores, ScoreShelf
from solidcopy.campaigns.journal.streams import (
    Spot,
    stream_readings,
    stream_rows,
    stream_stored,
    stream_times,
)
from solidcopy.campaigns.journal.summaries import summarise_elapsed, summarise_levels
from solidcopy.campaigns.journal.tables import ARM_NUMBERS
from solidcopy.campaigns.stop import Asked, CurvePlaces, Refused
from solidcopy.errors import JournalError
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.pairs import PairedTrials
from solidcopy.statistics.points import Points
from solidcopy.statistics.sides import Side, in_pairs
from solidcopy.statistics.tally import Tally
from solidcopy.trials.expand import TrialKey, nothing_sent_value
from solidcopy.trials.field_words import split_unit
from solidcopy.trials.outcome import Outcome
from solidcopy.trials.plan import Plan
from solidcopy.trials.together import n_together
from solidcopy.trials.trial import NOTHING_SENT, SENT, Readings


class JournalReader:
    """Read-only view of one campaign. Conditions and receivers are named by their 0-based places
    in the plan. Used by one thread at a time.
    """

    def __init__(self, folder: Path) -> None:
        """Raises JournalError if there is no journal, or a damaged or foreign one."""
        self._path = folder / JOURNAL_FILE
        with sentences(self._path):
            self._connection = open_for_reading(self._path)
        try:
            found = read_contents(self._connection, self._path)
            self._shelf = ScoreShelf(self._connection)
        except JournalError:
            self._connection.close()
            raise
        self._plan, self._curves, self._receivers = found.plan, found.curves, found.receivers
        self._trials = TrialsAsked(self._plan, self._unbroken, self._refused)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file. Safe to call twice."""
        self._connection.close()
        self._shelf.forget()  # 40 MB for 1e7 outcomes, which the reader's own circles would hold

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Everything read inside shows the journal as it is now, whatever is written meanwhile."""
        with self._reading() as connection:
            connection.execute("BEGIN")
        try:
            yield
        finally:
            self._connection.execute("COMMIT")

    @property
    def plan(self) -> Plan:
        """The plan of the last run."""
        return self._plan

    @property
    def axis_unit(self) -> str:
        """Unit of the axis, from the name of the swept field; empty if it has none."""
        return split_unit(self._plan.swept_label()[1])[1]

    def runs(self) -> list[RunRecord]:
        """All runs that wrote into this journal, the oldest first."""
        with self._reading() as connection:
            return queries.runs(connection)

    def content_version(self) -> str:
        """A text that stays as long as nothing is written, whichever process looks, and that no
        two states of a journal share: outcomes are only ever added, or replaced by a later run.
        """
        with self._reading() as connection:
            return queries.content_version(connection)

    def asked(self, condition: int, receiver: int) -> Asked:
        """Trials of a curve that the stop rule asks for, by what is there so far."""
        return self._trials.asked((condition, receiver), self._version())

    def refused(self) -> dict[CurvePlaces, Refused]:
        """Of each curve, the last look at which it was not precise enough, for the writer to keep:
        it costs many fits.
        """
        found = {
            curve: self._trials.refused(curve, self._version()) for curve in self._all_curves()
        }
        return {curve: refused for curve, refused in found.items() if refused is not None}

    def is_finished(self, condition: int, receiver: int) -> bool:
        """Whether the curve has all trials that the stop rule asks for."""
        asked = self.asked(condition, receiver)
        return asked.is_final and all(
            self.n_counted(condition, receiver, value) >= n for value, n in asked.n_at.items()
        )

    def n_counted(self, condition: int, receiver: int, axis_value: float) -> int:
        """Trials of one point that count: up to the first one missing, at most as asked."""
        place = self.series_place(condition, receiver, SENT, axis_value)
        limit = self._trials.counting((condition, receiver), self._version())[axis_value]
        return self.scores(place).n_without_gap(limit)

    def scores(self, place: Place) -> Scores:
        """How the trials of one series ended, whether or not they count.

        Read once as long as nothing is written: four bytes a trial are held.
        """
        with self._reading():
            return self._shelf.of(place)

    def tally(self, condition: int, receiver: int, axis_value: float) -> Tally:
        """Counts of one point."""
        n = self.n_counted(condition, receiver, axis_value)
        return self.tally_of_first(self.series_place(condition, receiver, SENT, axis_value), n)

    def tallies(self, condition: int, receiver: int) -> dict[float, Tally]:
        """Counts of all points of the plan, by axis value; a point not begun has zeros."""
        return {v: self.tally(condition, receiver, v) for v in self._plan.axis.points()}

    def points(self, condition: int, receiver: int) -> Points:
        """Counts along one curve, ready for a fit."""
        if n_together(self._plan.conditions[condition]) > 1:
            curve = (condition, receiver)
            return self.paired(curve, curve).side_a()
        return Points.of(self.tallies(condition, receiver), unit=self.axis_unit)

    def side(self, condition: int, receiver: int) -> Side:
        """Outcomes of one curve by axis value and trial index, to be set against another's."""
        values = self._plan.axis.points()
        flags = {value: self._flags((condition, receiver), value) for value in values}
        return Side(flags, self.axis_unit, n_together(self._plan.conditions[condition]))

    def paired(self, curve_a: CurvePlaces, curve_b: CurvePlaces) -> PairedTrials:
        """Two curves aligned by axis value and trial index: both met the same noise.

        Args:
            curve_a, curve_b: (condition, receiver) each.
        """
        return in_pairs(self.side(*curve_a), self.side(*curve_b))

    def readings(self, condition: int, axis_value: float, n: int) -> dict[int, Readings]:
        """Of the recordings of one point with a message sent and an index below `n`."""
        place = self.series_place(condition, 0, SENT, axis_value)
        with self._reading() as connection:
            return queries.readings_by_index(connection, place, n)

    def identities(self, condition: int, receiver: int) -> tuple[str, str]:
        """Of all recordings of a curve and of all answers to them, as they were written."""
        with self._reading() as connection:
            return queries.identities(
                connection, self._curves[condition], self._receivers[receiver]
            )

    def false_decodes(self, condition: int, receiver: int) -> FalseDecodes:
        """False decodes of one condition and receiver, with and without a message sent."""
        middle = nothing_sent_value(self._plan)
        place = self.series_place(condition, receiver, NOTHING_SENT, middle)
        n = self.scores(place).n_without_gap(self._plan.stop.nothing_sent)
        sent = sum(self.tallies(condition, receiver).values(), Tally())
        return FalseDecodes(sent, self.tally_of_first(place, n))

    def answers(self, place: Place, n: int) -> Answers:
        """Answers to the trials of one series with index below `n`, none of them missing."""
        with self._reading() as connection:
            return read_answers(connection, place, n)

    def outcome(self, key: TrialKey, receiver: int) -> Outcome:
        """Of one trial. Raises JournalError if it has not been run."""
        place = self.series_place(key.condition, receiver, key.arm, key.axis_value)
        with self._reading() as connection:
            outcome = queries.one_outcome(connection, place, key.trial_index)
        if outcome is None:
            raise JournalError(f"{self._path}: trial {key} has not been run yet")
        return outcome

    def level_card(self, condition: int) -> list[LevelSummary]:
        """Asked and got levels of a condition, over all recordings with a message sent."""
        limit, values = self._plan.stop.limit_per_point, self._plan.axis.points()
        places = [self.series_place(condition, 0, SENT, value) for value in values]
        with self._reading() as connection:
            return summarise_levels(stream_readings(connection, places, limit))

    def elapsed(self, condition: int, receiver: int) -> ElapsedSummary | NoEvidence:
        """Answer times of one receiver over the counted trials of a curve, failures left out."""
        sent = (spot for spot in self._spots(condition, receiver) if spot.arm == SENT)
        with self._reading() as connection:
            return summarise_elapsed(stream_times(connection, sent))

    def failures(self, condition: int, receiver: int) -> Counter[str]:
        """How often a receiver gave each reason for no answer, in all trials asked for."""
        reasons: Counter[str] = Counter()
        for spot in self._spots(condition, receiver):
            failed = np.flatnonzero(self.scores(spot.place).first(spot.limit).is_failed).tolist()
            with self._reading() as connection:
                reasons.update(queries.failures(connection, spot.place, failed))
        return reasons

    def rows(self) -> Iterator[JournalRow]:
        """All outcomes that the plan asks for, in order of condition, receiver, arm, axis value
        and trial index.
        """
        with self._reading() as connection:
            yield from stream_rows(connection, self._plan, self._all_spots())

    def fingerprint(self) -> str:
        """SHA-256 over all outcomes that the plan asks for, except how long they took.

        Two campaigns of the same plan are equal, row for row, if their fingerprints are.
        """
        with self._reading() as connection:
            return fingerprint_of(stream_stored(connection, self._all_spots()))

    def indexes(self, place: Place, span: range, *, retry_before_run: int = 0) -> set[int]:
        """Trial indexes of a span that need no run.

        Args:
            place: one series of outcomes, from `series_place`.
            span: range of trial indexes, step 1.
            retry_before_run: failures of runs before this number are to be run again.
        """
        with self._reading() as connection:
            return queries.indexes(connection, place, span, retry_before_run)

    def tally_of_first(self, place: Place, n: int) -> Tally:
        """Counts of the trials of one series with index below `n`, gaps or not."""
        return self.scores(place).first(n).tally()

    def series_place(self, condition: int, receiver: int, arm: str, axis_value: float) -> Place:
        """Where the outcomes of one series are kept; equal for series that share their rows."""
        return Place(
            self._curves[condition], self._receivers[receiver], ARM_NUMBERS[arm], axis_value + 0.0
        )

    def _spots(self, condition: int, receiver: int) -> Iterator[Spot]:
        """Every series of a curve, the one with nothing sent last."""
        n_at = self._trials.counting((condition, receiver), self._version())
        series = [(SENT, value, limit) for value, limit in n_at.items()]
        n_silent = self._plan.stop.nothing_sent
        series.append((NOTHING_SENT, nothing_sent_value(self._plan), n_silent))
        for arm, value, limit in series:
            place = self.series_place(condition, receiver, arm, value)
            yield Spot(condition, receiver, arm, value, limit, place)

    def _all_spots(self) -> Iterator[Spot]:
        for curve in self._all_curves():
            yield from self._spots(*curve)

    def _all_curves(self) -> Iterator[CurvePlaces]:
        return product(range(len(self._plan.conditions)), range(len(self._plan.receivers)))

    def _flags(self, curve: CurvePlaces, axis_value: float) -> Flagged:
        n = self.n_counted(*curve, axis_value)
        return _flagged(self.scores(self.series_place(*curve, SENT, axis_value)).first(n))

    def _version(self) -> int:
        with self._reading():
            return self._shelf.version()

    def _refused(self, curve: CurvePlaces) -> Refused | None:
        with self._reading() as connection:
            return queries.refused(connection, self._curves[curve[0]], self._receivers[curve[1]])

    def _unbroken(self, curve: CurvePlaces, axis_value: float) -> Flagged:
        """All trials of a point up to the first one missing."""
        scores = self.scores(self.series_place(*curve, SENT, axis_value))
        return _flagged(scores.first(scores.n_without_gap(self._plan.stop.limit_per_point)))

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with sentences(self._path):
            yield self._connection


def _flagged(scores: Scores) -> Flagged:
    """Decoded and scored, (n,) each."""
    return scores.is_decoded, scores.is_scored
