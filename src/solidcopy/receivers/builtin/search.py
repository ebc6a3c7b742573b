"""Blind search: where in time and frequency might a transmission be?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainccinv

from solidcopy.kernels.sync_search import local_maxima, sync_scores
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.front_end import COLUMNS_PER_TONE, ROWS_PER_SYMBOL, Cells

EARLIEST_S = -2.0
LATEST_S = 2.0
"""Starts searched, relative to the mode's nominal start."""
LOWEST_CONTRAST = 1.75
"""Mean synchronisation cell over the mean of the other tones' cells of the same symbols. Noise
alone has 1, an FT8 transmission at -22.5 dB 2.1 or more in 99 of 100; side lobes of loud ones have
little."""
LOWEST_FIRST_SURPLUS = 0.129
"""As `Reach.lowest_hit_surplus`, before alignment."""
N_MOST_CANDIDATES = 300
ROW_RADIUS = 2
COLUMN_RADIUS = 1

Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Bars:
    """What a place of one mode must show to be worth decoding."""

    lowest_score: float
    """Sum over all synchronisation cells, 1 each for noise alone."""
    lowest_block_power: float
    """Coherent power of the aligned synchronisation blocks over the noise floor, 1 for each block
    of noise alone."""
    lowest_sync_hits: int
    """Aligned synchronisation symbols whose own tone is the strongest."""
    sufficient_score: float
    """A score that suffices whatever the block power, for phases too unstable for blocks."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How weak a transmission is still looked for, whatever the mode."""

    lowest_excess: float
    """Mean synchronisation cell, less the 1 of noise alone: an Es/N0."""
    lowest_block_excess: float
    """The same, with the cells of an aligned block added coherently."""
    lowest_hit_surplus: float
    """Share of the aligned symbols whose own tone is the strongest: 0 is chance, 1 all."""

    def bars(self, framing: Framing) -> Bars:
        """What that amounts to with a mode's number of synchronisation symbols and tones."""
        n_blocks, n_per_block = framing.sync_symbols.shape
        n_sync = n_blocks * n_per_block
        return Bars(
            lowest_score=n_sync * (1.0 + self.lowest_excess),
            lowest_block_power=n_blocks * (1.0 + n_per_block * self.lowest_block_excess),
            lowest_sync_hits=lowest_hits(framing, self.lowest_hit_surplus),
            sufficient_score=float(gammainccinv(n_sync, P_SUFFICIENT_SCORE)),
        )


def lowest_hits(framing: Framing, surplus: float) -> int:
    """Number of synchronisation symbols that a surplus over chance amounts to."""
    chance = 1.0 / framing.facts.n_tones
    return round(framing.sync_symbols.size * (chance + surplus * (1.0 - chance)))


P_SUFFICIENT_SCORE = 1.34e-5
"""How often noise alone reaches a sufficient score at one place: 46 in FT8, 38.6 in FT4."""
USUAL_REACH = Reach(lowest_excess=0.905, lowest_block_excess=0.905, lowest_hit_surplus=0.24)
"""Score: 40 of the 21 symbols of FT8, where noise alone has mean 21 and deviation 4.6 (gamma
distribution) and makes about 20 candidates a slot; at -22.5 dB 1 of 100 transmissions is lower.
30.5 of FT4's 16 symbols, where noise has 16 and 4. Block power, 22 and 18.5: the best alignment of
an FT8 noise candidate is lower 99 times of 100, that of a transmission at -22.5 dB once in 100.
Hits, 7 of 21 and 7 of 16: 6 are usual for an aligned noise candidate, 11 for a transmission near
the threshold; side lobes of loud signals have few."""
LOW_REACH = Reach(lowest_excess=0.762, lowest_block_excess=0.667, lowest_hit_surplus=0.184)
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


def find_candidates(cells: Cells, framing: Framing, bars: Bars) -> Candidates:
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
    first_row, n_starts = searched_rows(framing, cells.row_s)
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


def searched_rows(framing: Framing, row_s: float) -> tuple[int, int]:
    """Row of the first start searched, and how many are."""
    first_row = round((framing.facts.nominal_start_s + EARLIEST_S) / row_s)
    return first_row, round((LATEST_S - EARLIEST_S) / row_s) + 1


def _stand_out(cells: Cells, framing: Framing, rows: Places, columns: Places) -> NDArray[np.bool_]:
    """Whether synchronisation tones stand out, place by place."""
    n_rows = cells.powers.shape[0]
    at_rows = rows[:, None] + framing.sync_symbols.ravel() * ROWS_PER_SYMBOL
    at_columns = columns[:, None] + np.arange(framing.facts.n_tones) * COLUMNS_PER_TONE
    powers = cells.powers[np.clip(at_rows, 0, n_rows - 1)[:, :, None], at_columns[:, None, :]]
    powers[(at_rows < 0) | (at_rows >= n_rows)] = 1.0
    return stands_out(powers, framing)


def stands_out(powers: NDArray[np.float32], framing: Framing) -> NDArray[np.bool_]:
    """Whether synchronisation tones stand out among all tones of their symbols.

    This does not depend on loudness, so the side lobes of a loud station do not fill the list.

    Args:
        powers: (n_places, n_sync, n_tones) cells of the synchronisation symbols.
        framing: the mode's layout.
    """
    tones = framing.sync_tones.ravel()
    own = powers[:, np.arange(tones.size), tones].sum(axis=1)
    n_hits = np.count_nonzero(powers.argmax(axis=2) == tones, axis=1)
    others = (powers.sum(axis=(1, 2)) - own) / (framing.facts.n_tones - 1)
    is_enough = n_hits >= lowest_hits(framing, LOWEST_FIRST_SURPLUS)
    return np.asarray((own >= LOWEST_CONTRAST * others) & is_enough)
