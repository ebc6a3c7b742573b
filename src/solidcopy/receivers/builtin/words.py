"""From symbol spectra to codewords: soft bits, belief propagation, ordered statistics."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.belief_propagation import decode_min_sum
from solidcopy.kernels.block_metrics import block_bit_metrics
from solidcopy.kernels.ordered_statistics import decode_ordered_statistics
from solidcopy.modes.mode import Bits
from solidcopy.receivers.builtin.framing import Framing

BLOCK_LENGTHS = (1, 2, 3)
"""Symbols taken together with one unknown phase."""
N_ITERATIONS = 30
MIN_SUM_SCALE = 0.8
ORDERED_STATISTICS_DEPTH = 2


@dataclass(frozen=True, slots=True, eq=False)
class Word:
    """A codeword with a right CRC, found at one place."""

    bits: Bits
    path: str
    """Which stage found it, from how many symbols at a time."""


def soft_bits(spectra: NDArray[np.complex64], framing: Framing) -> NDArray[np.float32]:
    """(len(BLOCK_LENGTHS), n_bits) metrics of one place; positive means 0 is likelier."""
    metrics = np.zeros((len(BLOCK_LENGTHS), framing.n_bits), np.float32)
    known, first_bits = framing.known_tones(), framing.first_bits()
    for row, length in zip(metrics, BLOCK_LENGTHS, strict=True):
        block_bit_metrics(
            spectra, framing.blocks(length), known, framing.bits_of_tone, first_bits, row
        )
    return metrics


def believed_words(metrics: NDArray[np.float32], framing: Framing) -> list[Word | None]:
    """Belief propagation on every place, shortest blocks first.

    Args:
        metrics: (n_places, len(BLOCK_LENGTHS), n_bits).
        framing: the mode's code.
    Returns: for every place a word, or None.
    """
    n_places, n_lengths, n_bits = metrics.shape
    columns = np.ascontiguousarray(metrics.reshape(-1, n_bits).T)
    bits, n_used = decode_min_sum(columns, framing.check_positions, N_ITERATIONS, MIN_SUM_SCALE)
    found: list[Word | None] = []
    for place in range(n_places):
        rows = range(place * n_lengths, (place + 1) * n_lengths)
        words = (
            Word(bits[row], f"belief-propagation/{length}")
            for row, length in zip(rows, BLOCK_LENGTHS, strict=True)
            if n_used[row] > 0 and framing.is_word(bits[row])
        )
        found.append(next(words, None))
    return found


def listed_words(metrics: NDArray[np.float32], framing: Framing) -> Iterable[Word]:
    """Ordered statistics on one place, longest blocks first.

    Args:
        metrics: (len(BLOCK_LENGTHS), n_bits).
        framing: the mode's code.
    Yields: words whose CRC holds; chance alone makes one of 16 384 do so.
    """
    for row, length in zip(metrics[::-1], BLOCK_LENGTHS[::-1], strict=True):
        bits, _ = decode_ordered_statistics(row, framing.generator, ORDERED_STATISTICS_DEPTH)
        if framing.is_word(bits):
            yield Word(bits, f"ordered-statistics/{length}")


def n_corrected(bits: Bits, metrics: NDArray[np.float32]) -> int:
    """Bits of a word that symbol-by-symbol decisions had wrong.

    Args:
        bits: (n_bits,).
        metrics: (len(BLOCK_LENGTHS), n_bits); the first row is that of single symbols.
    """
    return int(np.count_nonzero((metrics[0] < 0) != (bits > 0)))
