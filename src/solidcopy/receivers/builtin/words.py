"""From symbol spectra to codewords: soft bits, belief propagation, ordered statistics."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.belief_propagation import decode_min_sum
from solidcopy.kernels.block_metrics import block_bit_metrics
from solidcopy.kernels.ordered_statistics import decode_ordered_statistics
from solidcopy.modes.mode import Bits
from solidcopy.receivers.builtin.framing import Framing, blocks_of

BLOCK_LENGTHS = (1, 2, 3)
"""Symbols taken together with one unknown phase."""
METRIC_NAMES = tuple(f"{kind}-{n}" for n in BLOCK_LENGTHS for kind in ("steady", "fading"))
"""One set of soft bits each: amplitude law and block length."""
BELIEF_ORDER = (0, 2, 4, 1, 3, 5)
LIST_ORDER = (4, 5, 2, 3, 0, 1)
"""Which sets go first: for belief propagation any will do, for lists the most successful."""
N_ITERATIONS = 30
MIN_SUM_SCALE = 0.8
ORDERED_STATISTICS_DEPTH = 2


@dataclass(frozen=True, slots=True, eq=False)
class Word:
    """A codeword, CRC included, found at one place."""

    bits: Bits
    path: str
    """Which stage found it, from which soft bits."""
    is_checked: bool = True
    """False if the CRC was used to find the word, so that it holds of necessity."""


def soft_bits(spectra: NDArray[np.complex64], framing: Framing) -> NDArray[np.float32]:
    """All sets of soft bits of one place.

    Args:
        spectra: (n_symbols, n_tones).
        framing: the mode's layout.
    Returns: (len(METRIC_NAMES), n_bits); positive means 0 is likelier.
    """
    metrics = np.zeros((len(BLOCK_LENGTHS), 2, framing.n_bits), np.float32)
    for rows, length in zip(metrics, BLOCK_LENGTHS, strict=True):
        block_bit_metrics(
            spectra,
            blocks_of(framing.data_symbols, length),
            framing.known_tones,
            framing.bits_of_tone,
            framing.first_bits,
            rows,
        )
    return metrics.reshape(-1, framing.n_bits)


def believed_words(metrics: NDArray[np.float32], framing: Framing) -> list[Word | None]:
    """Belief propagation on every set of soft bits of every place.

    Args:
        metrics: (n_places, len(METRIC_NAMES), n_bits).
        framing: the mode's code.
    Returns: for every place the first word of `BELIEF_ORDER`, or None.
    """
    n_places, n_sets, n_bits = metrics.shape
    columns = np.ascontiguousarray(metrics.reshape(-1, n_bits).T)
    bits, n_used = decode_min_sum(columns, framing.check_positions, N_ITERATIONS, MIN_SUM_SCALE)
    found: list[Word | None] = []
    for place in range(n_places):
        words = (
            Word(bits[place * n_sets + row], f"belief-propagation/{METRIC_NAMES[row]}")
            for row in BELIEF_ORDER
            if n_used[place * n_sets + row] > 0 and framing.is_word(bits[place * n_sets + row])
        )
        found.append(next(words, None))
    return found


def listed_words(metrics: NDArray[np.float32], framing: Framing) -> Iterator[Word]:
    """Ordered statistics on every set of soft bits of one place, in `LIST_ORDER`.

    Args:
        metrics: (len(METRIC_NAMES), n_bits).
        framing: the mode's code.
    Yields: words whose CRC holds; chance alone makes one of 16 384 do so.
    """
    for row in LIST_ORDER:
        bits, _ = decode_ordered_statistics(
            metrics[row], framing.generator, ORDERED_STATISTICS_DEPTH
        )
        if framing.is_word(bits):
            yield Word(bits, f"ordered-statistics/{METRIC_NAMES[row]}")


def n_corrected(bits: Bits, metrics: NDArray[np.float32]) -> int:
    """Bits of a word that symbol-by-symbol decisions had wrong.

    Args:
        bits: (n_bits,).
        metrics: (len(METRIC_NAMES), n_bits); the first row is that of single symbols.
    """
    return int(np.count_nonzero((metrics[0] < 0) != (bits > 0)))
