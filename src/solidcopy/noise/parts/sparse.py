"""Periodic trains of impulses that are told one by one, each with all of its impulses."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.parts.beats import find_beats
from solidcopy.noise.parts.cells import Cells
from solidcopy.noise.parts.cycles import (
    Cycle,
    cycle_of,
    layers_of,
    share_of_periods,
    without_beats,
)
from solidcopy.noise.parts.impulses import Found, Rise
from solidcopy.noise.parts.trains import MAX_TRAINS, P_FALSE_TRAIN, Train, best_train, undivided

SPARSE_PER_S = (1.0, 2.0, 4.0)
"""Trains of single impulses are looked for among so many a second, the strongest ones."""
APART_S = (0.06, 0.25)
"""And among those that are the strongest for so long before and after: discharges crowd about a
pulse, and hide it among them."""
P_FALSE_LEADING = 1e-6
"""Those keep apart, so that even impulses of a fast rhythm come nearly in step: chance is more."""
MAX_SPARSE = 600
FRAGMENT_S = 0.012
"""What stands so close to an impulse of a train belongs to it."""
WEAKER_SHARE = 0.2
"""Pulses of one train differ in energy, but seldom by more."""


def sparse_trains(found: Found, rise: Rise, cells: Cells, duration_s: float) -> tuple[Cycle, ...]:
    """Trains among the strongest impulses, then among more and weaker ones, with their cycles.

    In order: what a train found before explains by its cycle is no train of its own.
    """
    taken = np.zeros(found.energies.size, dtype=bool)
    cycles: list[Cycle] = []
    layers = layers_of(rise.values, cells, cap=rise.threshold)

    def cycle(train: Train, others: list[Cycle]) -> Cycle:
        is_free = np.ones(found.labels.size, dtype=bool)
        for other in others:
            is_free &= ~np.isin(found.labels, other.train.members + 1)
        is_quiet = is_free & ~np.isin(found.labels, train.members + 1)
        values = np.where(is_quiet, rise.values, 1.0)
        beats = find_beats(values, hop_s=cells.hop_s, frame_s=cells.frame_s, cap=rise.threshold)
        left = without_beats(layers, beats, cells.centres_s)
        return cycle_of(train, left, cells.centres_s, is_free)

    for looked_at, p_most in _choices(found, duration_s):
        while len(cycles) < MAX_TRAINS:
            free = looked_at[~taken[looked_at]]
            train = _next_train(free, found, taken, cycles, duration_s)
            if train is None or train.p_chance >= p_most:
                break
            train = _completed(train, found, taken)
            cycles.append(cycle(train, cycles))
    # A train found later may have seemed to be part of an earlier one's cycle.
    return tuple(
        cycle(one.train, [other for other in cycles if other is not one]) for one in cycles
    )


def _choices(found: Found, duration_s: float) -> Iterator[tuple[np.ndarray, float]]:
    """Places of the impulses to be looked at, in order of time, one choice after the other, and
    the chance below which a train among them is believed."""
    order = np.argsort(-found.energies)
    for rate in SPARSE_PER_S:
        n_kept = min(round(rate * duration_s), MAX_SPARSE)
        yield np.sort(order[:n_kept]), P_FALSE_TRAIN
        if n_kept >= found.energies.size:
            break
    for apart_s in APART_S:
        leading = np.flatnonzero(_is_leading(found.times_s, found.energies, apart_s))
        strongest = leading[np.argsort(-found.energies[leading])][:MAX_SPARSE]
        yield np.sort(strongest), P_FALSE_LEADING


def _is_leading(times_s: FloatArray, energies: FloatArray, apart_s: float) -> np.ndarray:
    """(n,) whether an impulse is the strongest for so long to either side."""
    first = np.searchsorted(times_s, times_s - apart_s)
    last = np.searchsorted(times_s, times_s + apart_s, side="right")
    highest = [energies[low:high].max() for low, high in zip(first, last, strict=True)]
    return np.asarray(energies >= np.asarray(highest)) if highest else np.zeros(0, dtype=bool)


def _next_train(
    free: np.ndarray, found: Found, taken: np.ndarray, cycles: list[Cycle], duration_s: float
) -> Train | None:
    """The surest train among free impulses that those before do not explain; its members are
    places in the list of all impulses."""
    times_s = found.times_s
    others_s = times_s[~taken]

    def known(due_s: FloatArray, reach_s: float) -> FloatArray:
        shares = [
            share_of_periods(cycle.train, others_s, due_s, reach_s=reach_s, duration_s=duration_s)
            for cycle in cycles
        ]
        return np.max(shares, axis=0) if shares else np.zeros(due_s.size)

    is_clear = np.ones(free.size, dtype=bool)
    for cycle in cycles:
        is_clear &= ~cycle.heard_at(times_s[free])
    # First away from the cycles of those before; a train of nearly the same period keeps to them.
    choices = [free[is_clear], free] if not is_clear.all() else [free]
    for places in choices:
        train = best_train(times_s[places], duration_s, known)
        if train is not None:
            return replace(train, members=places[train.members])
    return None


def _completed(train: Train, found: Found, taken: np.ndarray) -> Train:
    """The train with every free impulse at its due times, and what stands right beside these.

    A long impulse may be found in pieces, and weak ones may not have been looked at.
    """
    is_member = np.zeros(taken.size, dtype=bool)
    is_member[train.members] = True
    energy = WEAKER_SHARE * float(np.median(found.energies[is_member]))
    strong = found.times_s[(found.energies > energy) & ~taken]
    train = undivided(train, strong)
    is_member |= train.due(found.times_s) & ~taken
    due = found.times_s[is_member]
    after = np.clip(np.searchsorted(due, found.times_s), 1, due.size - 1)
    away = np.minimum(np.abs(found.times_s - due[after - 1]), np.abs(found.times_s - due[after]))
    is_member |= (away < FRAGMENT_S) & ~taken
    taken |= is_member
    number = np.rint((due - train.start_s) / train.period_s.value)
    return replace(train, members=np.flatnonzero(is_member), n_pulses=int(np.unique(number).size))
