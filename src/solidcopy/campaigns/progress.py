"""What a running campaign tells: one stream of values for the terminal and the browser."""

import time
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, replace

from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.reader import JournalReader
from solidcopy.campaigns.journal.records import Finished
from solidcopy.campaigns.schedule import Series, wanted_series
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import SENT

RATE_OVER_S = 30.0
"""The pace shown is that of the last half minute."""


@dataclass(frozen=True, slots=True)
class PointProgress:
    """Counts so far at one axis value; trials that finished out of turn included."""

    axis_value: float
    n_decoded: int
    n_scored: int


@dataclass(frozen=True, slots=True)
class CurveProgress:
    """Counts so far along one curve."""

    condition: int
    receiver: int
    condition_name: str
    receiver_name: str
    points: tuple[PointProgress, ...]
    """Ascending axis values."""
    map_of: str | None = None
    """Of a condition on a map: the name of the one that says "map"."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a campaign has come. The unit of work is one trial heard by one receiver."""

    n_done: int
    n_planned: int
    """Upper bound: an asked precision may be reached before."""
    n_failed: int
    """Of those done: the receiver crashed, hung or threw."""
    rate_per_s: float | None
    """None until something was measured."""
    left_s: float | None
    """Until `n_planned`, at this pace."""
    curves: tuple[CurveProgress, ...]
    is_finished: bool
    message: str

    def line(self) -> str:
        """One line for a terminal."""
        share = 100.0 * self.n_done / self.n_planned if self.n_planned else 100.0
        text = f"{self.n_done} of {self.n_planned} ({share:.0f} %)"
        if self.rate_per_s is not None:
            text += f", {self.rate_per_s:.1f} per s"
        if self.left_s is not None and not self.is_finished:
            text += f", at most {duration(self.left_s)} left"
        if self.n_failed:
            text += f", {self.n_failed} failed"
        return f"{text}; {self.message}" if self.message else text


def duration(seconds: float) -> str:
    """E.g. "45 s", "12 min", "3 h 20 min"."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


@dataclass(slots=True)
class _Counts:
    """Of one series."""

    n_decoded: int = 0
    n_scored: int = 0
    n_failed: int = 0
    n_looked_at: int = 0
    """Trial indexes below this one were looked up in the journal."""


def progress_of(reader: JournalReader) -> Progress:
    """How far a campaign has come, by its journal, whether or not it is running."""
    wanted = wanted_series(reader)
    state = ProgressCounter(reader, wanted).progress()
    return replace(state, is_finished=state.n_done >= state.n_planned)


class ProgressCounter:
    """Counts outcomes as they come in. The journal, not this, is what results are read from."""

    def __init__(
        self, reader: JournalReader, wanted: list[Series], *, is_retrying: bool = False
    ) -> None:
        """Start from what the journal holds already; failures count as open if retrying."""
        self._plan = reader.plan
        self._reader = reader
        self._is_retrying = is_retrying
        self._counts: dict[Place, _Counts] = {}
        self._recent: deque[tuple[float, int]] = deque()
        self._n_new = 0
        self._n_planned = 0
        self.plan_for(wanted)

    def plan_for(self, wanted: list[Series]) -> None:
        """Work out the upper bound anew: a finished curve gets no more trials."""
        self._n_planned = sum(series.n_limit for series in wanted)
        for series in wanted:
            self._find(series)

    def _find(self, series: Series) -> None:
        """Count what the journal holds of trials that were not wanted before."""
        counts = self._counts.setdefault(series.place, _Counts())
        # Evenly placed trials beyond those wanted now may have been run by an earlier plan.
        is_even = self._plan.axis.placement == "even" and series.arm == SENT
        n = self._plan.stop.limit_per_point if is_even else series.n_wanted
        if n <= counts.n_looked_at:
            return
        there = self._reader.tally_of_first(series.place, n)
        before = self._reader.tally_of_first(series.place, counts.n_looked_at)
        counts.n_decoded += there.n_decoded - before.n_decoded
        counts.n_scored += there.n_scored - before.n_scored
        if not self._is_retrying:
            counts.n_failed += there.n_failed - before.n_failed
        counts.n_looked_at = n

    def add(self, items: Iterable[Finished]) -> None:
        """Outcomes that were just written."""
        for item in items:
            key = item.key
            place = self._reader.series_place(key.condition, item.receiver, key.arm, key.axis_value)
            counts = self._counts[place]
            verdict = item.outcome.verdict
            if verdict is Verdict.FAILED:
                counts.n_failed += 1
            else:
                counts.n_scored += 1
                counts.n_decoded += verdict is Verdict.DECODED
            self._n_new += 1
        now = time.monotonic()
        self._recent.append((now, self._n_new))
        while len(self._recent) > 2 and self._recent[1][0] < now - RATE_OVER_S:
            self._recent.popleft()

    def progress(self, message: str = "", *, is_finished: bool = False) -> Progress:
        """The state now."""
        n_done = sum(c.n_scored + c.n_failed for c in self._counts.values())
        rate = self._rate_per_s()
        left_s = max(0, self._n_planned - n_done) / rate if rate else None
        return Progress(
            n_done=n_done,
            n_planned=self._n_planned,
            n_failed=sum(c.n_failed for c in self._counts.values()),
            rate_per_s=rate,
            left_s=left_s,
            curves=tuple(
                self._curve(condition, receiver)
                for condition in range(len(self._plan.conditions))
                for receiver in range(len(self._plan.receivers))
                if self._is_wanted(condition, receiver)
            ),
            is_finished=is_finished,
            message=message,
        )

    def _rate_per_s(self) -> float | None:
        """From the first outcomes on: starting the workers does not count."""
        if len(self._recent) < 2:
            return None
        (first_s, n_first), (last_s, n_last) = self._recent[0], self._recent[-1]
        return (n_last - n_first) / (last_s - first_s) if last_s > first_s else None

    def _is_wanted(self, condition: int, receiver: int) -> bool:
        """Not a curve of a receiver that this run leaves out."""
        value = self._plan.axis.points()[0]
        return self._reader.series_place(condition, receiver, SENT, value) in self._counts

    def _curve(self, condition: int, receiver: int) -> CurveProgress:
        points = []
        for value in self._plan.axis.points():
            place = self._reader.series_place(condition, receiver, SENT, value)
            counts = self._counts[place]
            points.append(PointProgress(value, counts.n_decoded, counts.n_scored))
        named = self._plan.conditions[condition]
        return CurveProgress(
            condition,
            receiver,
            named.name,
            self._plan.receivers[receiver].name,
            tuple(points),
            None if named.mapped is None else named.mapped.condition,
        )
