"""Which impulses come in step: parting a list of times into periodic trains and the rest."""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.stats

from solidcopy.noise.features.figure import Figure, FloatArray

TOLERANCE_S = 0.025
"""An impulse may stand so far to either side of its place in a train."""
LEAST_TOLERANCE_S = 0.005
PERIODS_S = (0.3, 12.0)
LEAST_PULSES = 6
LEAST_SHARE = 0.6
"""Of a train's places, so many must hold an impulse."""
FILLED_SHARE = 0.75
"""Of the places between a train's pulses, so many hold one if it is in truth a faster train."""
P_FALSE_TRAIN = 1e-3
MAX_TRAINS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Train:
    """Impulses that keep a period."""

    period_s: Figure
    start_s: float
    """A due time; the others follow and precede it by whole periods."""
    members: np.ndarray
    """(n,) places in the list of times."""
    n_pulses: int
    """Of its due times, so many hold an impulse."""
    scatter_s: float
    """Standard deviation of the impulses about their places."""
    p_chance: float
    """Chance that as many impulses without order show such a train anywhere in the search."""

    def due(self, times_s: FloatArray) -> np.ndarray:
        """(n,) whether each time is one at which the train is due."""
        number = np.rint((times_s - self.start_s) / self.period_s.value)
        away = np.abs(times_s - self.start_s - number * self.period_s.value)
        return np.asarray(away < min(TOLERANCE_S, max(4.0 * self.scatter_s, LEAST_TOLERANCE_S)))


def part_trains(times_s: FloatArray, duration_s: float) -> tuple[list[Train], np.ndarray]:
    """Periodic trains, the surest first, and the places of what is left.

    Args:
        times_s: (n,) ascending.
        duration_s: of the recording; a train needs six places in it.
    Source: derived here; the search is the one known as deinterleaving of pulse trains.
    """
    left = np.arange(times_s.size)
    trains: list[Train] = []
    while left.size >= LEAST_PULSES and len(trains) < MAX_TRAINS:
        found = _best_train(times_s[left], duration_s)
        if found is None:
            break
        trains.append(replace(found, members=left[found.members]))
        left = np.delete(left, found.members)
    return trains, left


def undivided(train: Train, times_s: FloatArray) -> Train:
    """The train, or a faster one of which it is every second, third or fourth pulse.

    Args:
        times_s: (n,) of all impulses that may belong to it; among the strongest only some of a
            train's pulses may have been.
    """
    for part in (4, 3, 2):
        period_s = train.period_s.value / part
        faster = replace(train, period_s=Figure(period_s, train.period_s.standard_error / part))
        here = times_s[faster.due(times_s)]
        numbers = np.unique(np.rint((here - train.start_s) / period_s))
        if numbers.size < LEAST_PULSES or period_s < PERIODS_S[0]:
            continue
        places = np.arange(numbers.min(), numbers.max() + 1)
        between = places[places % part != 0]
        if np.isin(between, numbers).sum() < FILLED_SHARE * between.size:
            continue
        fit = np.polyfit(np.rint((here - train.start_s) / period_s), here, 1)
        spread = float(np.square(numbers - numbers.mean()).sum())
        error = max(train.scatter_s, 1e-4) / math.sqrt(spread)
        return replace(faster, period_s=Figure(float(fit[0]), error), start_s=float(fit[1]))
    return train


def _best_train(times_s: FloatArray, duration_s: float) -> Train | None:
    """The train that chance explains worst."""
    best: Train | None = None
    n_tried = 0
    longest = min(PERIODS_S[1], duration_s / (LEAST_PULSES - 1))
    if longest <= PERIODS_S[0]:
        return None
    span_s = float(times_s[-1] - times_s[0])
    period_s = PERIODS_S[0]
    periods = []
    while period_s < longest:
        periods.append(period_s)
        period_s += TOLERANCE_S / 2.0 * period_s / span_s
    scores = np.array([_score(times_s, period, duration_s) for period in periods])
    n_tried = len(periods)
    # Several near the best are refined: a coarse step may favour a neighbour.
    for place in np.argsort(scores)[::-1][:5]:
        if scores[place] <= 0.0:
            break
        train = _refined(times_s, periods[int(place)], duration_s, n_tried)
        if train is not None and (best is None or train.p_chance < best.p_chance):
            best = train
    return best if best is not None and best.p_chance < P_FALSE_TRAIN else None


def _chance_share(n_times: int, duration_s: float, tolerance_s: float) -> float:
    """Chance that a place of a train holds one of so many impulses without order."""
    return -math.expm1(-n_times * 2.0 * tolerance_s / duration_s)


def _score(times_s: FloatArray, period_s: float, duration_s: float) -> float:
    """Log likelihood ratio of the best phase for a period against no order at all."""
    phases = np.sort(times_s % period_s)
    round_about = np.concatenate([phases, phases + period_s])
    ends = np.searchsorted(round_about, phases + 2.0 * TOLERANCE_S, side="right")
    n_places = duration_s / period_s
    n_hits = min(float((ends - np.arange(phases.size)).max()), n_places)
    share, chance = n_hits / n_places, _chance_share(times_s.size, duration_s, TOLERANCE_S)
    if share <= max(chance, LEAST_SHARE * 0.8):
        return 0.0
    miss = (1.0 - share) * math.log((1.0 - share) / (1.0 - chance)) if share < 1.0 else 0.0
    return n_places * (share * math.log(share / chance) + miss)


def _refined(times_s: FloatArray, period_s: float, duration_s: float, n_tried: int) -> Train | None:
    """A straight line through the members' times, twice, then one member for each place."""
    phases = np.sort(times_s % period_s)
    round_about = np.concatenate([phases, phases + period_s])
    ends = np.searchsorted(round_about, phases + 2.0 * TOLERANCE_S, side="right")
    first = int(np.argmax(ends - np.arange(phases.size)))
    start_s = float(np.mean(round_about[first : ends[first]]))
    members, numbers = np.zeros(0, dtype=np.int64), np.zeros(0)
    for _ in range(4):
        numbers = np.rint((times_s - start_s) / period_s)
        away = np.abs(times_s - start_s - numbers * period_s)
        members = _nearest_each(numbers, away)
        if members.size < LEAST_PULSES:
            return None
        fit = np.polyfit(numbers[members], times_s[members], 1)
        period_s, start_s = float(fit[0]), float(fit[1])
    places = numbers[members]
    n_places = int(places.max() - places.min()) + 1
    in_all = max(n_places, math.floor(duration_s / period_s))
    if members.size < LEAST_SHARE * n_places or n_places < 0.7 * in_all:
        return None
    away = times_s[members] - start_s - places * period_s
    scatter_s = float(np.sqrt(np.square(away).sum() / max(members.size - 2, 1)))
    spread = float(np.square(places - places.mean()).sum())
    chance = _chance_share(times_s.size, duration_s, TOLERANCE_S)
    p_one = float(scipy.stats.binom.sf(members.size - 1, in_all, chance))
    tries = n_tried * times_s.size
    return Train(
        Figure(period_s, max(scatter_s, 1e-4) / math.sqrt(spread)),
        start_s,
        members,
        int(members.size),
        scatter_s,
        min(1.0, p_one * tries),
    )


def _nearest_each(numbers: FloatArray, away: FloatArray) -> np.ndarray:
    """Of each place the nearest impulse within the tolerance, in order of time."""
    near = np.flatnonzero(away <= TOLERANCE_S)
    order = near[np.lexsort((away[near], numbers[near]))]
    _, first = np.unique(numbers[order], return_index=True)
    return np.sort(order[first])
