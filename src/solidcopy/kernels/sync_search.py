"""Loops of the search for synchronisation patterns in a grid of cell powers."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot

Powers = NDArray[np.float32]
Indexes = NDArray[np.int64]


@hot
def sync_scores(
    cell_powers: Powers,
    first_row: int,
    sync_rows: Indexes,
    sync_columns: Indexes,
    scores: Powers,
) -> Powers:
    """Sum of the powers of all synchronisation cells, for every start time and frequency.

    Args:
        cell_powers: (n_rows, n_columns) float32, time by frequency, noise has mean 1.
        first_row: row of the first start searched; may be negative.
        sync_rows: (n_sync,) row of each synchronisation symbol after the start.
        sync_columns: (n_sync,) column of its tone above the lowest tone.
        scores: (n_starts, n_columns - max(sync_columns)) float32, overwritten.
    Returns: `scores`. A cell outside the recording counts as 1, the mean of noise.
    """
    n_rows = cell_powers.shape[0]
    n_starts, n_places = scores.shape
    for start in range(n_starts):
        row_scores = scores[start]
        for place in range(n_places):
            row_scores[place] = np.float32(0.0)
        for k in range(sync_rows.size):
            row = first_row + start + sync_rows[k]
            if row < 0 or row >= n_rows:
                for place in range(n_places):
                    row_scores[place] += np.float32(1.0)
            else:
                cells = cell_powers[row, sync_columns[k] : sync_columns[k] + n_places]
                for place in range(n_places):
                    row_scores[place] += cells[place]
    return scores


@hot
def local_maxima(
    scores: Powers, lowest: float, row_radius: int, column_radius: int
) -> tuple[Indexes, Indexes]:
    """Places that reach `lowest` and are not exceeded within a rectangle around them.

    Args:
        scores: (n_rows, n_columns) float32.
        lowest: smallest score that counts.
        row_radius, column_radius: half sizes of the rectangle, in rows and columns.
    Returns: rows and columns of the maxima, each (n_maxima,) int64, in row order.
    """
    n_rows, n_columns = scores.shape
    rows = np.empty(scores.size, np.int64)
    columns = np.empty(scores.size, np.int64)
    n_found = 0
    for row in range(n_rows):
        for column in range(n_columns):
            score = scores[row, column]
            if not score >= lowest:
                continue
            is_highest = True
            for other in range(max(0, row - row_radius), min(n_rows, row + row_radius + 1)):
                for near in range(
                    max(0, column - column_radius), min(n_columns, column + column_radius + 1)
                ):
                    if scores[other, near] > score:
                        is_highest = False
            if is_highest:
                rows[n_found] = row
                columns[n_found] = column
                n_found += 1
    return rows[:n_found].copy(), columns[:n_found].copy()
