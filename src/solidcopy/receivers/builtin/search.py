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
LOWEST_SHARE = 0.2
"""Share of the synchronisation cells in the power of all cells of their symbols. Noise alone has
1/8, a transmission at -22.5 dB 0.23 or more in 99 of 100; side lobes of loud ones have little."""
LOWEST_HITS = 5
"""Synchronisation symbols, of 21, whose own tone is the strongest before alignment."""
N_MOST_CANDIDATES = 300
ROW_RADIUS = 2
COLUMN_RADIUS = 1

Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Bars:
    """What a place must show to be worth decoding."""

    lowest_score: float
    """Sum over all synchronisation cells, 1 each for noise alone."""
    lowest_block_power: float
    """Coherent power of the aligned synchronisation blocks over the noise floor."""
    lowest_sync_hits: int
    """Aligned synchronisation symbols whose own tone is the strongest."""


USUAL_BARS = Bars(lowest_score=40.0, lowest_block_power=22.0, lowest_sync_hits=7)
"""For 21 synchronisation symbols. Score: noise alone has mean 21 and deviation 4.6 (gamma
distribution) and makes about 20 candidates a slot; at -22.5 dB 1 of 100 transmissions is lower.
Block power: the best alignment of a noise candidate is lower 99 times of 100, that of a
transmission at -22.5 dB once in 100. Hits: 6 are usual for an aligned noise candidate, 11 for a
transmission at -22.5 dB; side lobes of loud signals have few."""
LOW_BARS = Bars(lowest_score=37.0, lowest_block_power=17.0, lowest_sync_hits=6)
"""For the level of effort that decodes transmissions at -23.3 dB every other time."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Places to look at, the most promising first."""

    starts_s: NDArray[np.float64]
    """(n,) after the slot's edge."""
    audio_hz: NDArray[np.float64]
    """(n,) frequency of the lowest tone."""
    scores: NDArray[np.float32]
    """(n,) sums of normalised synchronisation cells."""

    def near(self, audio_hz: list[float], reach_hz: float) -> "Candidates":
        """Those within `reach_hz` of any of several frequencies."""
        apart_hz = np.abs(self.audio_hz[:, None] - np.asarray(audio_hz)[None, :])
        is_near = (apart_hz <= reach_hz).any(axis=1)
        return Candidates(self.starts_s[is_near], self.audio_hz[is_near], self.scores[is_near])


def find_candidates(cells: Cells, framing: Framing, bars: Bars = USUAL_BARS) -> Candidates:
    """Local maxima of the sum of all synchronisation cells.

    Args:
        cells: normalised cell powers.
        framing: the mode's layout.
        bars: only the score counts here.
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
    rows, columns = local_maxima(scores, bars.lowest_score, ROW_RADIUS, COLUMN_RADIUS)
    found = scores[rows, columns]
    rows += first_row
    kept = np.flatnonzero(_stand_out(cells, framing, rows, columns))
    best = kept[np.argsort(-found[kept], kind="stable")[:N_MOST_CANDIDATES]]
    return Candidates(
        starts_s=np.asarray(rows[best] * cells.row_s, np.float64),
        audio_hz=np.asarray(cells.first_hz + columns[best] * cells.column_hz, np.float64),
        scores=found[best],
    )


def _stand_out(cells: Cells, framing: Framing, rows: Places, columns: Places) -> NDArray[np.bool_]:
    """Whether synchronisation tones stand out among all tones of their symbols.

    This does not depend on loudness, so the side lobes of a loud station do not fill the list.
    """
    n_rows = cells.powers.shape[0]
    tones = framing.sync_tones.ravel()
    at_rows = rows[:, None] + framing.sync_symbols.ravel() * ROWS_PER_SYMBOL
    at_columns = columns[:, None] + np.arange(framing.facts.n_tones) * COLUMNS_PER_TONE
    powers = cells.powers[np.clip(at_rows, 0, n_rows - 1)[:, :, None], at_columns[:, None, :]]
    powers[(at_rows < 0) | (at_rows >= n_rows)] = 1.0
    own = powers[:, np.arange(tones.size), tones].sum(axis=1)
    n_hits = np.count_nonzero(powers.argmax(axis=2) == tones, axis=1)
    share = own / powers.sum(axis=(1, 2))
    return np.asarray((share >= LOWEST_SHARE) & (n_hits >= LOWEST_HITS))
