"""What became of each part of a noise: matched in both recordings, with its difference."""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import scipy.stats

from solidcopy import units
from solidcopy.noise.before_after.match import best_match, matched
from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.parts.listing import list_parts
from solidcopy.noise.parts.part import Part, PartKind
from solidcopy.signals.waveform import Waveform

LONGEST_S = 600.0
"""Of a longer recording the first so many seconds are taken apart."""
STRETCH_S = 10.0
MOST_STRETCHES = 8
LEAST_STRETCHES = 3
"""A part must show in so many stretches to tell how much it varies by itself."""
CONFIDENCE = 0.95


class Fate(StrEnum):
    """What became of a part."""

    GONE = "gone"
    NEW = "new"
    QUIETER = "quieter"
    LOUDER = "louder"
    SAME = "no difference shown"
    UNSURE = "cannot tell"


@dataclass(frozen=True, slots=True)
class PartChange:
    """One part before and after."""

    before: Part | None
    after: Part | None
    """Its level with the gain change taken off."""
    difference_db: float | None
    """After less before; None where it is in one of them only."""
    interval_db: tuple[float, float] | CannotTell
    """95 %."""

    @property
    def fate(self) -> Fate:
        """In one word, or nearly."""
        if self.after is None:
            return Fate.GONE
        if self.before is None:
            return Fate.NEW
        if isinstance(self.interval_db, CannotTell):
            return Fate.UNSURE
        low, high = self.interval_db
        if low <= 0.0 <= high:
            return Fate.SAME
        return Fate.LOUDER if low > 0.0 else Fate.QUIETER

    @property
    def part(self) -> Part:
        """As it was before, or as it came."""
        part = self.before or self.after
        assert part is not None
        return part


@dataclass(frozen=True, slots=True)
class Spread:
    """How well the mean power of a part is known."""

    relative_error: float
    n_free: float
    """Degrees of freedom of that error."""


def changes_by_part(
    before: Waveform, after: Waveform, *, gain: float = 1.0
) -> tuple[PartChange, ...]:
    """Parts of both recordings side by side, the strongest first.

    Args:
        before, after: one channel each, of one sample rate, 20 s or longer.
        gain: by which the power of the second was raised.
    Source: derived here. The error of a part's power is that of its reading and, as the larger
        share, how much it differs between stretches of ten seconds (Student's t of their mean);
        the difference of two takes Welch's degrees of freedom (from memory).
    """
    heard = [_first(one) for one in (before, after)]
    lists = [_whole(one) for one in heard]
    stretches = [_stretches(one) for one in heard]
    found = []
    for first, second in matched(lists[0], lists[1]):
        lowered = None if second is None else replace(second, power=second.power / gain)
        if first is None or second is None:
            why = CannotTell("it was found in one of the two only")
            found.append(PartChange(first, lowered, None, why))
            continue
        spreads = (spread_of(first, stretches[0]), spread_of(second, stretches[1]))
        difference_db = units.db_from_ratio(second.power / gain / first.power)
        found.append(PartChange(first, lowered, difference_db, _interval(difference_db, spreads)))
    return tuple(sorted(found, key=lambda one: -_strongest(one)))


def _strongest(change: PartChange) -> float:
    return max(part.power for part in (change.before, change.after) if part is not None)


def _first(waveform: Waveform) -> Waveform:
    n_most = round(LONGEST_S * waveform.sample_rate_hz)
    return Waveform(waveform.samples[:n_most], waveform.sample_rate_hz)


def _whole(waveform: Waveform) -> tuple[Part, ...]:
    """Parts that are there; the rest is none."""
    parts = list_parts(waveform).parts
    return tuple(part for part in parts if part.kind is not PartKind.REST and part.power > 0.0)


def _stretches(waveform: Waveform) -> list[tuple[Part, ...]]:
    """Parts of equal stretches; none of a recording that holds fewer than three."""
    n_stretches = min(MOST_STRETCHES, int(waveform.duration_s // STRETCH_S))
    if n_stretches < LEAST_STRETCHES:
        return []
    n_long = waveform.samples.size // n_stretches
    return [
        _whole(Waveform(waveform.samples[first : first + n_long], waveform.sample_rate_hz))
        for first in range(0, n_stretches * n_long, n_long)
    ]


def spread_of(part: Part, stretches: list[tuple[Part, ...]]) -> Spread | CannotTell:
    """How well a part's mean power is known, from the same part in each stretch."""
    if len(stretches) < LEAST_STRETCHES:
        least_s = LEAST_STRETCHES * STRETCH_S
        return CannotTell(f"{least_s:g} s of each recording show how much a part varies by itself")
    powers = [
        _steady_power(one) for parts in stretches if (one := best_match(part, parts)) is not None
    ]
    if len(powers) < LEAST_STRETCHES:
        return CannotTell(
            f"it does not show in single stretches of {STRETCH_S:g} s; record for longer"
        )
    return _spread(np.array(powers), part)


def _steady_power(part: Part) -> float:
    """Power, or energy of a pulse: how many pulses fall into a stretch is no change of a train."""
    if part.kind is PartKind.PERIODIC_IMPULSES and part.n_impulses is not None:
        return part.power / max(part.n_impulses, 1)
    return part.power


def _spread(powers: FloatArray, part: Part) -> Spread:
    varies = float(powers.std(ddof=1)) / float(powers.mean()) / math.sqrt(powers.size)
    reading = part.level_error_db * math.log(10.0) / 10.0
    return Spread(math.hypot(varies, reading), powers.size - 1.0)


def _interval(
    difference_db: float, spreads: tuple[Spread | CannotTell, Spread | CannotTell]
) -> tuple[float, float] | CannotTell:
    pair = []
    for one in spreads:
        if isinstance(one, CannotTell):
            return one
        pair.append(one)
    variances = [one.relative_error**2 for one in pair]
    total = sum(variances)
    n_free = total**2 / sum(
        variance**2 / one.n_free for variance, one in zip(variances, pair, strict=True)
    )
    quantile = float(scipy.stats.t.isf((1.0 - CONFIDENCE) / 2.0, n_free))
    half_db = 10.0 / math.log(10.0) * quantile * math.sqrt(total)
    return difference_db - half_db, difference_db + half_db
