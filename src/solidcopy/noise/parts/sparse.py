"""Periodic trains of impulses that are told one by one, each with all of its impulses."""

from dataclasses import replace

import numpy as np

from solidcopy.noise.parts.impulses import Found
from solidcopy.noise.parts.trains import Train, part_trains, undivided

SPARSE_PER_S = (1.0, 2.0, 4.0)
"""Trains of single impulses are looked for among so many a second, the strongest ones."""
MAX_SPARSE = 600
FRAGMENT_S = 0.012
"""What stands so close to an impulse of a train belongs to it."""
WEAKER_SHARE = 0.2
"""Pulses of one train differ in energy, but seldom by more."""


def sparse_trains(found: Found, duration_s: float) -> list[Train]:
    """Trains among the strongest impulses, then among more and weaker ones."""
    order = np.argsort(-found.energies)
    taken = np.zeros(found.energies.size, dtype=bool)
    trains: list[Train] = []
    for rate in SPARSE_PER_S:
        n_kept = min(round(rate * duration_s), MAX_SPARSE)
        looked_at = np.sort(order[:n_kept])
        looked_at = looked_at[~taken[looked_at]]
        new, _ = part_trains(found.times_s[looked_at], duration_s)
        for train in new:
            trains.append(_completed(train, looked_at, found, taken))
        if n_kept >= found.energies.size:
            break
    return trains


def _completed(train: Train, looked_at: np.ndarray, found: Found, taken: np.ndarray) -> Train:
    """The train with every free impulse at its due times, and what stands right beside these.

    A long impulse may be found in pieces, and weak ones may not have been looked at.
    """
    is_member = np.zeros(taken.size, dtype=bool)
    is_member[looked_at[train.members]] = True
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
