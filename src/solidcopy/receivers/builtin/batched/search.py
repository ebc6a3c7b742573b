"""Blind search of many slots at once (see `builtin.search`)."""

from dataclasses import dataclass

import numpy as np

from solidcopy.receivers.builtin import search
from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.batched.front_end import CellGrids
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.front_end import COLUMNS_PER_TONE, ROWS_PER_SYMBOL
from solidcopy.receivers.builtin.search import Bars, Candidates


@dataclass(frozen=True, slots=True, eq=False)
class _Maxima:
    """Places whose score is not exceeded around them, all slots together."""

    slots: Array
    rows: Array
    columns: Array
    scores: Array


def find_candidates(
    xp: Namespace, grids: CellGrids, framing: Framing, bars: Bars
) -> list[Candidates]:
    """For every slot what `search.find_candidates` finds."""
    cells = next((own for own in grids.host_cells if own is not None), None)
    if cells is None:
        return [Candidates(np.empty(0), np.empty(0), np.empty(0, np.float32))] * len(
            grids.host_cells
        )
    first_row, n_starts = search.searched_rows(framing, cells.row_s)
    tall = _with_rows_outside(xp, grids.powers, framing, first_row=first_row, n_starts=n_starts)
    maxima = _local_maxima(xp, _scores(xp, tall, framing, n_starts), bars.lowest_score)
    powers = _sync_powers(xp, tall, framing, maxima)
    is_kept = search.stands_out(on_host(powers), framing)
    slots, rows, columns, scores = (
        on_host(values)[is_kept]
        for values in (maxima.slots, maxima.rows, maxima.columns, maxima.scores)
    )
    found = []
    for slot in range(len(grids.host_cells)):
        own = np.flatnonzero(slots == slot)
        best = own[np.argsort(-scores[own], kind="stable")[: search.N_MOST_CANDIDATES]]
        found.append(
            Candidates(
                starts_s=np.asarray((rows[best] + first_row) * cells.row_s, np.float64),
                audio_hz=np.asarray(cells.first_hz + columns[best] * cells.column_hz, np.float64),
                scores=scores[best],
            )
        )
    return found


def _with_rows_outside(
    xp: Namespace, powers: Array, framing: Framing, *, first_row: int, n_starts: int
) -> Array:
    """(n_slots, n_tall, n_columns): all rows that a start can reach, those outside being 1.

    Row 0 is that of the first start.
    """
    n_slots, n_rows, n_columns = powers.shape
    n_tall = n_starts + int(framing.sync_symbols.max()) * ROWS_PER_SYMBOL
    tall = xp.ones((n_slots, n_tall, n_columns), xp.float32)
    low, high = max(first_row, 0), min(first_row + n_tall, n_rows)
    tall[:, low - first_row : high - first_row] = powers[:, low:high]
    return tall


def _scores(xp: Namespace, tall: Array, framing: Framing, n_starts: int) -> Array:
    """(n_slots, n_starts, n_places) sums of the synchronisation cells."""
    n_places = tall.shape[2] - framing.facts.n_tones * COLUMNS_PER_TONE
    scores = xp.zeros((tall.shape[0], n_starts, n_places), xp.float32)
    for symbol, tone in zip(framing.sync_symbols.ravel(), framing.sync_tones.ravel(), strict=True):
        row, column = int(symbol) * ROWS_PER_SYMBOL, int(tone) * COLUMNS_PER_TONE
        scores += tall[:, row : row + n_starts, column : column + n_places]
    return scores


def _local_maxima(xp: Namespace, scores: Array, lowest: float) -> _Maxima:
    """As the kernel `local_maxima`, for every slot."""
    _, n_rows, n_columns = scores.shape
    is_highest = scores >= xp.float32(lowest)
    for down in range(-search.ROW_RADIUS, search.ROW_RADIUS + 1):
        for right in range(-search.COLUMN_RADIUS, search.COLUMN_RADIUS + 1):
            here = (
                slice(None),
                slice(max(0, -down), n_rows - max(0, down)),
                slice(max(0, -right), n_columns - max(0, right)),
            )
            there = (
                slice(None),
                slice(max(0, down), n_rows - max(0, -down)),
                slice(max(0, right), n_columns - max(0, -right)),
            )
            is_highest[here] &= scores[here] >= scores[there]
    slots, rows, columns = xp.nonzero(is_highest)
    return _Maxima(slots, rows, columns, scores[slots, rows, columns])


def _sync_powers(xp: Namespace, tall: Array, framing: Framing, maxima: _Maxima) -> Array:
    """(n_places, n_sync, n_tones) powers of all tones of the synchronisation symbols."""
    rows = maxima.rows[:, None] + xp.asarray(framing.sync_symbols.ravel() * ROWS_PER_SYMBOL)
    tones = xp.asarray(np.arange(framing.facts.n_tones) * COLUMNS_PER_TONE)
    columns = maxima.columns[:, None] + tones
    return tall[maxima.slots[:, None, None], rows[:, :, None], columns[:, None, :]]
