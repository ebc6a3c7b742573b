"""Trains of impulses over a whole recording, those whose period moves or that come and go too."""

import math
from dataclasses import dataclass, replace

import numpy as np

from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray
from solidcopy.noise.features.trains import MIN_PULSES, MOVING, SHORTEST_PERIOD_S, Train, trains_in

STRETCH_S = 90.0
"""A period that moves is taken as constant for so long."""
MIN_STRETCHES = 2
SAME_PERIOD = 0.003
"""Relative change of period from one stretch to the next that is still the same train."""
MAX_STRETCHES_LATER = 2
SAME_PHASE = 0.2
"""Periods by which the due times of neighbouring stretches may disagree where they meet."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A train in one stretch; times count from the beginning of the recording."""

    stretch: int
    train: Train


def find_trains(
    times_s: FloatArray, watched_s: tuple[float, float]
) -> tuple[Train, ...] | CannotTell:
    """Periodic trains, the one with most impulses first.

    Args:
        times_s: (n,) ascending, of all impulses of a recording.
        watched_s: from when to when they were looked for.
    Returns: trains of periods from 0.08 to 10 s. Of impulses at random times one recording in a
        thousand shows any, of those longer than 180 s two.
    """
    begin_s, duration_s = watched_s[0], watched_s[1] - watched_s[0]
    times_s = times_s - begin_s
    if duration_s < MIN_PULSES * SHORTEST_PERIOD_S * 10.0:
        return CannotTell("trains of impulses need a longer recording")
    n_stretches = math.ceil(duration_s / STRETCH_S)
    found, is_left = trains_in(times_s, duration_s)
    if n_stretches < MIN_STRETCHES:
        return _sorted(found, begin_s)
    steady = [train for train in found if train.wander >= MOVING]
    if len(steady) < len(found):
        is_left = _belongs_to_none(times_s, steady)
    return _sorted(steady + _followed(times_s[is_left], duration_s, n_stretches), begin_s)


def _sorted(trains: list[Train], begin_s: float) -> tuple[Train, ...]:
    in_order = sorted(trains, key=lambda train: -train.n_seen)
    return tuple(_later(train, begin_s) for train in in_order)


def _belongs_to_none(times_s: FloatArray, trains: list[Train]) -> np.ndarray:
    """(n,) whether each impulse is far from all due times."""
    is_left = np.ones(times_s.size, dtype=bool)
    for train in trains:
        period_s = train.period_s.value
        away_s = times_s - train.first_s
        away_s -= period_s * np.rint(away_s / period_s)
        is_left &= np.abs(away_s) > max(4.0 * train.jitter_s.value, 0.003)
    return is_left


def _followed(times_s: FloatArray, duration_s: float, n_stretches: int) -> list[Train]:
    """Trains found in stretches and put together where one goes on as the other."""
    length_s = duration_s / n_stretches
    chains: list[list[_Piece]] = []
    for stretch in range(n_stretches):
        begin_s = stretch * length_s
        here = times_s[(times_s >= begin_s) & (times_s < begin_s + length_s)] - begin_s
        for train in trains_in(here, length_s)[0]:
            piece = _Piece(stretch, _later(train, begin_s))
            chain = next((chain for chain in chains if _goes_on(chain[-1], piece)), None)
            if chain is None:
                chains.append([piece])
            else:
                chain.append(piece)
    return [_joined([piece.train for piece in chain]) for chain in chains]


def _later(train: Train, begin_s: float) -> Train:
    first_s, last_s = train.seen_s
    return replace(
        train, first_s=train.first_s + begin_s, seen_s=(first_s + begin_s, last_s + begin_s)
    )


def _goes_on(last: _Piece, piece: _Piece) -> bool:
    """Whether a train of a later stretch continues one: near in period, and in phase if next."""
    n_later = piece.stretch - last.stretch
    if not 1 <= n_later <= MAX_STRETCHES_LATER:
        return False
    before, after = last.train, piece.train
    change = after.period_s.value / before.period_s.value - 1.0
    error = math.hypot(before.period_s.standard_error, after.period_s.standard_error)
    if abs(change) > SAME_PERIOD + 5.0 * error / before.period_s.value:
        return False
    # Carry both on to where they meet: the last impulse of one, the first of the other.
    period_s = (before.period_s.value + after.period_s.value) / 2.0
    away = (after.seen_s[0] - before.seen_s[1]) / period_s
    return n_later > 1 or abs(away - round(away)) < SAME_PHASE


def _joined(pieces: list[Train]) -> Train:
    """One train of several stretches; numbers add, the period is the mean over impulses."""
    if len(pieces) == 1:
        return pieces[0]
    numbers = np.array([train.n_seen for train in pieces], dtype=np.float64)
    periods_s = np.array([train.period_s.value for train in pieces])
    errors_s = np.array([train.period_s.standard_error for train in pieces])
    weights = numbers / numbers.sum()
    jitter_s = math.sqrt(float(weights @ np.square([t.jitter_s.value for t in pieces])))
    n_seen = int(numbers.sum())
    n_expected = sum(train.n_expected for train in pieces)
    share = n_seen / n_expected
    errors_s = np.maximum(errors_s, float(np.ptp(periods_s)) / math.sqrt(12.0))
    return Train(
        period_s=Figure(
            float(weights @ periods_s), math.sqrt(float(np.square(weights) @ np.square(errors_s)))
        ),
        first_s=pieces[0].first_s,
        jitter_s=Figure(jitter_s, jitter_s / math.sqrt(2.0 * n_seen)),
        n_seen=n_seen,
        n_expected=n_expected,
        share_seen=Figure(share, math.sqrt(share * (1.0 - share) / n_expected)),
        p_chance=min(train.p_chance for train in pieces),
        seen_s=(pieces[0].seen_s[0], pieces[-1].seen_s[1]),
        wander=min(train.wander for train in pieces),
        period_range_s=(float(periods_s.min()), float(periods_s.max())),
    )
