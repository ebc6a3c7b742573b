"""Differences between conditions of a campaign in which a recording is the noise."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from solidcopy.campaigns.journal import JournalReader
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.impairments.added.recording_source import Source
from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.curves import p_fit
from solidcopy.reports.gather import reading_at
from solidcopy.reports.measured import Estimate, is_doubtful_fit
from solidcopy.seeds import Chance, stream
from solidcopy.statistics.comparison import penalty_between
from solidcopy.statistics.curve import Curve
from solidcopy.statistics.evidence import NoEvidence, NoThreshold
from solidcopy.statistics.stretches import (
    MOST_STRETCHES,
    StretchedSide,
    StretchError,
    stretch_error,
    widened,
)
from solidcopy.statistics.threshold import Reading, Threshold
from solidcopy.trials.condition import Condition
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

HALF = 0.5


@dataclass(frozen=True, slots=True)
class Difference:
    """What one condition needs more than another for half of the messages."""

    shift: Estimate | NoThreshold
    """In dB; positive: more signal."""
    error: StretchError | NoEvidence
    """How it moves with the stretches of the recording."""
    n_trials: tuple[int, int]
    """Scored, of the first and of the one in question."""

    @property
    def is_of_this_recording_only(self) -> bool:
        """Whether nothing is known of how another recording of the same noise would differ."""
        return isinstance(self.error, NoEvidence)


@dataclass(frozen=True, slots=True)
class Portions:
    """Slots of a recording that do not overlap, and what trials used of it."""

    n_independent: int
    duration_s: float
    n_stretches: int


class Figures:
    """Curves of one campaign and their differences."""

    def __init__(self, reader: JournalReader) -> None:
        self._reader = reader
        self._axis = axis_facts(reader.plan)
        self._readings: dict[tuple[int, int], Reading] = {}

    @property
    def plan(self) -> Plan:
        """The plan that was carried out."""
        return self._reader.plan

    @cached_property
    def source(self) -> Source | None:
        """The recording of the first condition that has one."""
        for condition in self.plan.conditions:
            found = recording_in(condition)
            if found is not None:
                return found.source(self._rate_hz, self._n_slot)
        return None

    @property
    def _rate_hz(self) -> int:
        return self.plan.audio.internal_rate_hz or self.plan.audio.sample_rate_hz

    @property
    def _n_slot(self) -> int:
        return round(mode_named(self.plan.mode).facts.slot_s * self._rate_hz)

    def portions(self) -> Portions:
        """How much independent noise the recording holds."""
        source = self.source
        if source is None:
            return Portions(0, 0.0, 0)
        n_independent = source.samples.size // self._n_slot
        duration_s = source.samples.size / self._rate_hz
        return Portions(n_independent, duration_s, min(n_independent, MOST_STRETCHES))

    def threshold(self, condition: int, receiver: int) -> Threshold | NoThreshold:
        """Where half of the messages get through."""
        return self._reading((condition, receiver)).thresholds[HALF]

    def is_doubtful(self, condition: int, receiver: int) -> bool:
        """Whether the points hardly follow a curve, as where half of the band is free of noise."""
        curve = self._reading((condition, receiver)).curve
        return isinstance(curve, Curve) and is_doubtful_fit(p_fit(curve))

    def difference(self, first: int, this: int, receiver: int) -> Difference:
        """Threshold of condition `this` less that of `first`, heard by one receiver."""
        a, b = (first, receiver), (this, receiver)
        readings = self._reading(a), self._reading(b)
        found = penalty_between(self._reader.paired(a, b), *readings, HALF)
        sides = self._side(a, readings[0]), self._side(b, readings[1])
        n_trials = sides[0].values.size, sides[1].values.size
        error = stretch_error(*sides, n_stretches=self.portions().n_stretches, p=HALF)
        if isinstance(found, NoThreshold):
            return Difference(found, error, n_trials)
        interval = found.interval
        if isinstance(error, StretchError):
            own_half = interval.half_width
            if sides[0].stretches is None:
                own_half = found.threshold_b.interval.half_width
            interval = widened(interval, found.value, error, own_half=own_half)
        return Difference(Estimate(found.value, interval), error, n_trials)

    def _reading(self, place: tuple[int, int]) -> Reading:
        if place not in self._readings:
            self._readings[place] = reading_at(self._reader, place, self._axis)
        return self._readings[place]

    def _side(self, place: tuple[int, int], reading: Reading) -> StretchedSide:
        """All scored trials of a curve, each with the stretch of the recording that it met."""
        condition = self.plan.conditions[place[0]]
        values, decoded, stretches = [], [], []
        for value, (is_decoded, is_scored) in self._reader.side(*place).by_value.items():
            indexes = np.flatnonzero(is_scored)
            values.append(np.full(indexes.size, value))
            decoded.append(is_decoded[indexes])
            stretches.append(self._stretches(condition, value, indexes))
        has_recording = recording_in(condition) is not None
        return StretchedSide(
            values=np.concatenate(values),
            is_decoded=np.concatenate(decoded),
            stretches=np.concatenate(stretches) if has_recording else None,
        )

    def _stretches(
        self, condition: Condition, value: float, indexes: NDArray[np.int64]
    ) -> NDArray[np.int64]:
        """Which stretch holds the middle of the slot that each trial was given, drawn again."""
        recording = recording_in(condition)
        if recording is None:
            return np.zeros(indexes.size, np.int64)
        source = recording.source(self._rate_hz, self._n_slot)
        starts = [
            source.draw_start(
                stream(Chance(self.plan.root_seed, SENT, int(index), value), "recording/0")
            )
            for index in indexes
        ]
        middles = np.array(starts, np.int64) + self._n_slot // 2
        n_stretches = self.portions().n_stretches
        return np.minimum(middles * n_stretches // source.samples.size, n_stretches - 1)


def recording_in(condition: Condition) -> OwnRecording | None:
    """The first recording of a condition."""
    for impairment in condition.added():
        if isinstance(impairment, OwnRecording):
            return impairment
    return None
