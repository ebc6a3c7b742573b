"""From symbol spectra to codewords: soft bits, belief propagation, ordered statistics."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.belief_propagation import decode_min_sum
from solidcopy.kernels.block_metrics import block_bit_metrics
from solidcopy.kernels.ordered_statistics import decode_ordered_statistics
from solidcopy.modes.mode import Bits
from solidcopy.receivers.builtin.framing import Framing, blocks_of

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


def metric_names(framing: Framing) -> tuple[str, ...]:
    """One for each set of soft bits: amplitude law and block length."""
    return tuple(f"{kind}-{n}" for n in framing.block_lengths for kind in ("steady", "fading"))


def _list_order(n_sets: int) -> list[int]:
    """Sets of the longest blocks first: in white noise they are the most successful."""
    return [row + kind for row in range(n_sets - 2, -1, -2) for kind in (0, 1)]


def soft_bits(spectra: NDArray[np.complex64], framing: Framing) -> NDArray[np.float32]:
    """All sets of soft bits of one place.

    Args:
        spectra: (n_symbols, n_tones).
        framing: the mode's layout.
    Returns: (n_sets, n_bits), one set for each of `metric_names`; positive means 0 is likelier.
    """
    metrics = np.zeros((len(framing.block_lengths), 2, framing.n_bits), np.float32)
    for rows, length in zip(metrics, framing.block_lengths, strict=True):
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
        metrics: (n_places, n_sets, n_bits).
        framing: the mode's code.
    Returns: for every place a word, from steady amplitude rather than fading, or None.
    """
    n_places, n_sets, n_bits = metrics.shape
    names = metric_names(framing)
    order = [*range(0, n_sets, 2), *range(1, n_sets, 2)]
    columns = np.ascontiguousarray(metrics.reshape(-1, n_bits).T)
    bits, n_used = decode_min_sum(columns, framing.check_positions, N_ITERATIONS, MIN_SUM_SCALE)
    found: list[Word | None] = []
    for place in range(n_places):
        words = (
            Word(bits[place * n_sets + row], f"belief-propagation/{names[row]}")
            for row in order
            if n_used[place * n_sets + row] > 0 and framing.is_word(bits[place * n_sets + row])
        )
        found.append(next(words, None))
    return found


def listed_words(metrics: NDArray[np.float32], framing: Framing) -> Iterator[Word]:
    """Ordered statistics on every set of soft bits of one place, the longest blocks first.

    Args:
        metrics: (n_sets, n_bits).
        framing: the mode's code.
    Returns: words whose CRC holds; chance alone makes one of 16 384 do so.
    """
    nearest = (
        decode_ordered_statistics(rows, framing.generator, ORDERED_STATISTICS_DEPTH)[0]
        for rows in in_list_order(metrics)
    )
    return checked_words(nearest, framing)


def in_list_order(metrics: NDArray[np.float32]) -> NDArray[np.float32]:
    """Sets of soft bits, (n_sets, n_bits), those from the longest blocks first."""
    return metrics[_list_order(metrics.shape[0])]


def checked_words(nearest: Iterable[Bits], framing: Framing) -> Iterator[Word]:
    """Of the nearest word to each set of soft bits, in the list's order, those whose CRC holds."""
    names = metric_names(framing)
    for row, bits in zip(_list_order(len(names)), nearest, strict=True):
        if framing.is_word(bits):
            yield Word(bits, f"ordered-statistics/{names[row]}")


def n_corrected(bits: Bits, metrics: NDArray[np.float32]) -> int:
    """Bits of a word that symbol-by-symbol decisions had wrong.

    Args:
        bits: (n_bits,).
        metrics: (n_sets, n_bits); the first row is that of single symbols.
    """
    return int(np.count_nonzero((metrics[0] < 0) != (bits > 0)))
