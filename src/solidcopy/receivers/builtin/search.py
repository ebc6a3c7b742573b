"""Blind search: where in time and frequency might a transmission be?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.sync_search import local_maxima, sync_scores
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.front_end import COLUMNS_PER_TONE, ROWS_PER_SYMBOL, Cells

EARLIEST_S = -2.0
LATEST_S = 2.0
"""Starts searched, relative to the mode's nominal start."""
LOWEST_SCORE = 40.0
"""Sum over 21 synchronisation cells. Noise alone has mean 21 and deviation 4.6 (gamma
distribution) and makes about 21 candidates a slot; at -22.5 dB 1 of 100 transmissions is lower."""
N_MOST_CANDIDATES = 150
ROW_RADIUS = 2
COLUMN_RADIUS = 1


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Places to look at, the most promising first."""

    starts_s: NDArray[np.float64]
    """(n,) after the slot's edge."""
    audio_hz: NDArray[np.float64]
    """(n,) frequency of the lowest tone."""
    scores: NDArray[np.float32]
    """(n,) sums of normalised synchronisation cells."""


def find_candidates(cells: Cells, framing: Framing) -> Candidates:
    """Local maxima of the sum of all synchronisation cells.

    Args:
        cells: normalised cell powers.
        framing: the mode's layout.
    Returns: at most `N_MOST_CANDIDATES` places, by falling score.
    """
    facts = framing.facts
    sync_rows = framing.sync_symbols.ravel() * ROWS_PER_SYMBOL
    sync_columns = framing.sync_tones.ravel() * COLUMNS_PER_TONE
    first_row = round((facts.nominal_start_s + EARLIEST_S) / cells.row_s)
    n_starts = round((LATEST_S - EARLIEST_S) / cells.row_s) + 1
    n_places = cells.powers.shape[1] - facts.n_tones * COLUMNS_PER_TONE
    scores = np.empty((n_starts, n_places), np.float32)
    sync_scores(cells.powers, first_row, sync_rows, sync_columns, scores)
    rows, columns = local_maxima(scores, LOWEST_SCORE, ROW_RADIUS, COLUMN_RADIUS)
    found = scores[rows, columns]
    best = np.argsort(-found, kind="stable")[:N_MOST_CANDIDATES]
    return Candidates(
        starts_s=np.asarray((first_row + rows[best]) * cells.row_s, np.float64),
        audio_hz=np.asarray(cells.first_hz + columns[best] * cells.column_hz, np.float64),
        scores=found[best],
    )
