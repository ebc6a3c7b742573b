"""Which impulses come in step: the surest periodic train among a list of times."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import scipy.special
import scipy.stats

from solidcopy.kernels.in_step import most_in_step
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
N_NEAR = 5
N_APART = 12
STEPS_APART = 6
KnownChance = Callable[[FloatArray, float], FloatArray]
"""Of due times and the reach about them: chances that each holds an impulse explained already."""


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

    @property
    def reach_s(self) -> float:
        """How far from its place a pulse of it may stand."""
        return min(TOLERANCE_S, max(4.0 * self.scatter_s, LEAST_TOLERANCE_S))

    def due(self, times_s: FloatArray) -> np.ndarray:
        """(n,) whether each time is one at which the train is due."""
        number = np.rint((times_s - self.start_s) / self.period_s.value)
        away = np.abs(times_s - self.start_s - number * self.period_s.value)
        return np.asarray(away < self.reach_s)


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


def best_train(
    times_s: FloatArray, duration_s: float, known_chance: KnownChance | None = None
) -> Train | None:
    """The train that chance explains worst; None if chance explains all of them.

    Args:
        times_s: (n,) ascending.
        duration_s: of the recording; a train needs six places in it.
        known_chance: what trains found before explain of impulses at given times.
    Source: derived here; the search is the one known as deinterleaving of pulse trains.
    """
    longest = min(PERIODS_S[1], duration_s / (LEAST_PULSES - 1))
    if longest <= PERIODS_S[0] or times_s.size < LEAST_PULSES:
        return None
    span_s = max(float(times_s[-1] - times_s[0]), PERIODS_S[0])
    growth = 1.0 + TOLERANCE_S / 2.0 / span_s
    n_periods = math.ceil(math.log(longest / PERIODS_S[0]) / math.log(growth))
    periods = PERIODS_S[0] * np.power(growth, np.arange(n_periods, dtype=np.float64))
    scores = _scores(times_s, periods, duration_s)
    best: Train | None = None
    for place in _promising(scores):
        train = _refined(times_s, float(periods[place]), duration_s, n_periods * times_s.size)
        if train is None or train.p_chance >= P_FALSE_TRAIN:
            continue
        if known_chance is not None:
            train = _beyond_known(train, times_s, duration_s, known_chance)
        if best is None or train.p_chance < best.p_chance:
            best = train
    return best if best is not None and best.p_chance < P_FALSE_TRAIN else None


def _promising(scores: FloatArray) -> list[int]:
    """Places of the best scores: several near the best, since a coarse step may favour a neighbour,
    and others apart, since what is known already may crowd about the best."""
    order = [int(place) for place in np.argsort(scores)[::-1] if scores[place] > 0.0]
    chosen, apart = order[:N_NEAR], order[:1]
    for place in order:
        if len(apart) > N_APART:
            break
        if min(abs(place - other) for other in apart) > STEPS_APART:
            apart.append(place)
    return list(dict.fromkeys(chosen + apart))


def _beyond_known(
    train: Train, times_s: FloatArray, duration_s: float, known_chance: KnownChance
) -> Train:
    """The train with the chance that what is known already would look like it."""
    period_s = train.period_s.value
    first = math.ceil(-train.start_s / period_s)
    last = math.floor((duration_s - train.start_s) / period_s)
    due_s = train.start_s + period_s * np.arange(first, last + 1, dtype=np.float64)
    chances = np.clip(known_chance(due_s, train.reach_s), 0.0, 1.0)
    # How many of the places would hold an impulse: a sum of unlike yes and no.
    counts = np.ones(1)
    for chance in chances:
        counts = np.convolve(counts, (1.0 - chance, chance))
    p_known = float(counts[train.members.size :].sum())
    tries = times_s.size * due_s.size
    return replace(train, p_chance=max(train.p_chance, min(1.0, p_known * tries)))


def _chance_share(n_times: int, duration_s: float, tolerance_s: float) -> float:
    """Chance that a place of a train holds one of so many impulses without order."""
    return -math.expm1(-n_times * 2.0 * tolerance_s / duration_s)


def _scores(times_s: FloatArray, periods_s: FloatArray, duration_s: float) -> FloatArray:
    """(n_periods,) log likelihood ratio of the best phase against no order at all."""
    hits = most_in_step(times_s, periods_s, 2.0 * TOLERANCE_S)
    n_places = duration_s / periods_s
    share = np.minimum(hits / n_places, 1.0)
    chance = _chance_share(times_s.size, duration_s, TOLERANCE_S)
    # x log x goes to nothing with x.
    ratio = scipy.special.xlogy(share, share / chance)
    ratio += scipy.special.xlogy(1.0 - share, (1.0 - share) / (1.0 - chance))
    return np.asarray(np.where(share > max(chance, LEAST_SHARE * 0.8), n_places * ratio, 0.0))


def _refined(times_s: FloatArray, period_s: float, duration_s: float, tries: int) -> Train | None:
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
