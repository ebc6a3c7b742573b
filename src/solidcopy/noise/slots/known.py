"""Slots whose content and times are known: which of them a recording holds, and where."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from solidcopy.noise.slots.grid import REACH_S, Edges, Grid, solved
from solidcopy.noise.slots.listen import Heard

SAME_AUDIO_HZ = 20.0
"""So far a receiver's dial may be off."""


@dataclass(frozen=True, slots=True)
class KnownSlot:
    """One slot that was played."""

    number: int
    start_s: float
    """Of its edge, from the first slot's."""
    text: str | None
    """None: nothing was sent."""
    audio_hz: float
    """Of the lowest tone."""
    late_s: float
    """Start of the transmission after the mode's nominal start."""


@dataclass(frozen=True, slots=True, eq=False)
class KnownGrid:
    """The grid of slots by what was played."""

    grid: Grid
    heard: tuple[Heard, ...]
    """The transmissions of the key, each with its slot."""
    first_slot_s: float
    """Edge of slot 0 of the grid, from the first slot of the key."""


def fit_known(
    heard: Sequence[Heard], known: Sequence[KnownSlot], *, slot_s: float, nominal_start_s: float
) -> KnownGrid | None:
    """The grid of slots from transmissions that are in the key; None if fewer than two are.

    All were timed by one clock, so that each tells of the rate and of the offset.

    Args:
        heard: by the rate assumed.
        known: all slots of the key.
        slot_s, nominal_start_s: the mode's.
    """
    pairs = _of_one_play(_alike(heard, known), nominal_start_s)
    if len(pairs) < 2:
        return None
    edges_s = np.array([_edge_s(*pair, nominal_start_s) for pair in pairs])
    known_s = np.array([slot.start_s for _, slot in pairs])
    begins_s = float(np.median(edges_s - known_s))
    n_before = int(np.ceil(-begins_s / slot_s))
    numbers = np.rint(known_s / slot_s).astype(np.int64) - n_before
    edges = Edges(
        late_s=edges_s - numbers * slot_s,
        numbers=numbers,
        stations=np.zeros(len(pairs), np.int64),
        spreads_s=np.array([item.spread_s for item, _ in pairs]),
        members=np.arange(len(pairs)),
    )
    grid = solved(edges, slot_s=slot_s)
    placed = tuple(replace(item, slot=slot.number) for item, slot in pairs)
    return KnownGrid(replace(grid, is_one_clock=False), placed, n_before * slot_s)


def _edge_s(item: Heard, slot: KnownSlot, nominal_start_s: float) -> float:
    return item.start_s - nominal_start_s - slot.late_s


def _alike(heard: Sequence[Heard], known: Sequence[KnownSlot]) -> list[tuple[Heard, KnownSlot]]:
    return [
        (item, slot)
        for item in heard
        for slot in known
        if item.text == slot.text and abs(item.audio_hz - slot.audio_hz) < SAME_AUDIO_HZ
    ]


def _of_one_play(
    pairs: list[tuple[Heard, KnownSlot]], nominal_start_s: float
) -> list[tuple[Heard, KnownSlot]]:
    """Those that agree on when the play began: a text may stand in several slots."""
    begins_s = np.array([_edge_s(*pair, nominal_start_s) - pair[1].start_s for pair in pairs])
    if not begins_s.size:
        return []
    is_near = np.abs(begins_s[:, None] - begins_s[None, :]) < REACH_S
    best = int(np.count_nonzero(is_near, axis=1).argmax())
    return [pair for pair, is_taken in zip(pairs, is_near[best], strict=True) if is_taken]
