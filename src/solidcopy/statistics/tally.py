"""Outcome counts of one condition. Tallies add."""

from dataclasses import dataclass, fields
from typing import Literal

from solidcopy.statistics.clusters import Clustering
from solidcopy.statistics.evidence import Interval, NoEvidence
from solidcopy.statistics.interval import clopper_pearson, rate_interval, wilson

IntervalMethod = Literal["wilson", "exact"]


@dataclass(frozen=True, slots=True)
class Tally:
    """How the trials of one condition ended.

    A failed trial (the receiver crashed or ran out of time) is neither a decode nor a miss: it
    is left out of every probability and shown beside it.

    Args:
        n_decoded, n_missed, n_failed: trials by outcome; each trial counts once.
        n_false_trials: scored trials with at least one false decode, whatever their outcome.
        n_false_decodes: false decodes in all; several may fall in one trial.
    """

    n_decoded: int = 0
    n_missed: int = 0
    n_failed: int = 0
    n_false_trials: int = 0
    n_false_decodes: int = 0

    def __post_init__(self) -> None:
        if any(getattr(self, field.name) < 0 for field in fields(self)):
            raise ValueError(f"counts cannot be negative: {self}")
        if self.n_false_trials > self.n_scored:
            raise ValueError(f"more trials with a false decode than scored trials: {self}")
        if (self.n_false_decodes == 0) != (self.n_false_trials == 0) or (
            self.n_false_decodes < self.n_false_trials
        ):
            raise ValueError(f"false decodes and trials that hold them disagree: {self}")

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    @property
    def n_scored(self) -> int:
        """Trials that answer: decoded or missed."""
        return self.n_decoded + self.n_missed

    @property
    def n_trials(self) -> int:
        """All trials, failed ones included."""
        return self.n_scored + self.n_failed

    def p_decoded(self) -> float | NoEvidence:
        """Share of scored trials that were decoded."""
        return self.n_decoded / self.n_scored if self.n_scored else self._nothing()

    def decode_interval(
        self,
        confidence: float = 0.95,
        method: IntervalMethod = "wilson",
        *,
        clustering: Clustering | None = None,
    ) -> Interval | NoEvidence:
        """Interval of the probability that a message is decoded; `clustering` as for `wilson`."""
        return self._interval(self.n_decoded, confidence, method, clustering)

    def p_false(self) -> float | NoEvidence:
        """Share of scored trials with at least one false decode."""
        return self.n_false_trials / self.n_scored if self.n_scored else self._nothing()

    def false_interval(
        self,
        confidence: float = 0.95,
        method: IntervalMethod = "exact",
        *,
        clustering: Clustering | None = None,
    ) -> Interval | NoEvidence:
        """Interval of the probability that a trial holds a false decode; `clustering` as for
        `wilson`."""
        return self._interval(self.n_false_trials, confidence, method, clustering)

    def false_rate_interval(self, confidence: float = 0.95) -> Interval | NoEvidence:
        """Interval of the mean number of false decodes in a trial."""
        if not self.n_scored:
            return self._nothing()
        return rate_interval(self.n_false_decodes, self.n_scored, confidence)

    def _interval(
        self, k: int, confidence: float, method: str, clustering: Clustering | None
    ) -> Interval | NoEvidence:
        if not self.n_scored:
            return self._nothing()
        if method not in ("wilson", "exact"):
            raise ValueError(f'method must be "wilson" or "exact", not {method!r}')
        make = wilson if method == "wilson" else clopper_pearson
        return make(k, self.n_scored, confidence, clustering=clustering)

    def _nothing(self) -> NoEvidence:
        if self.n_failed:
            return NoEvidence(f"all {self.n_failed} trials failed: the receiver gave no answer")
        return NoEvidence("no trial was run")
