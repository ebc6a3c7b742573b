"""Ordered statistics of many words at once (see `kernels.ordered_statistics`, `near_words`).

Let s be +1 for every parity place where the decided word agrees with the metric's sign and -1
elsewhere, w the places' |metric|, and r(i) = -1 where flipping pivot i changes a place. Flipping a
set of pivots leaves a distance of their costs plus (sum of w - sum of w s r(i) r(j)...) / 2. So
with all pairs as rows of a matrix, the sums for two, three and four flips are matrix products
(derived here).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.mode import Bits
from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host

N_AT_ONCE = 2048
"""Words reduced together: 16 kB each, and as much again at work."""


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """What the search of flips needs to know, for n words."""

    order: Array
    """(n, n_bits) bit numbers, most reliable first."""
    rows: Array
    """(n, n_info, n_bits) uint8, reduced, in that order."""
    signs: Array
    """(n, n_info, n_parity) float32: r above."""
    agreement: Array
    """(n, n_parity) float32: w s above."""
    total: Array
    """(n,) float32: sum of w."""
    costs: Array
    """(n, n_info) float32 of flipping each pivot."""
    decided: Array
    """(n, n_info) uint8."""

    def part(self, which: slice | Array) -> "Reduced":
        """Some of the words."""
        return Reduced(
            self.order[which],
            self.rows[which],
            self.signs[which],
            self.agreement[which],
            self.total[which],
            self.costs[which],
            self.decided[which],
        )


def _eliminated(xp: Namespace, rows: Array) -> tuple[Array, Array, Array]:
    """Reduce rows (n, n_info, n_bits) in place, taking pivots from the first column on.

    Returns: rows in the order of their pivots; pivots (n, n_info) and other places, ascending.
    """
    n, n_info, n_bits = rows.shape
    words = xp.arange(n)
    is_used = xp.zeros((n, n_info), xp.uint8)
    row_of = xp.zeros((n, n_bits), xp.int64)
    is_pivot = xp.zeros((n, n_bits), xp.uint8)
    for place in range(n_bits):
        # Asking costs a wait for the device, so not at every place.
        if place >= n_info and place % 8 == 0 and bool((is_pivot.sum(axis=1) == n_info).all()):
            break
        column = rows[:, :, place].copy()
        is_free = column & (is_used ^ 1)
        chosen = is_free.argmax(axis=1)
        is_found = is_free[words, chosen]
        row = rows[words, chosen] * is_found[:, None]
        column[words, chosen] = 0
        rows ^= column[:, :, None] * row[:, None, :]
        is_used[words, chosen] |= is_found
        row_of[:, place] = chosen
        is_pivot[:, place] = is_found
    ranked = xp.argsort(1 - is_pivot.astype(xp.int8), axis=1, kind="stable")
    pivots, others = ranked[:, :n_info], ranked[:, n_info:]
    chosen = xp.take_along_axis(row_of, pivots, axis=1)
    return rows[words[:, None], chosen], pivots, others


def reduce(xp: Namespace, metrics: Array, generator: Bits) -> Reduced:
    """The reduced problems of words.

    Args:
        xp: the namespace.
        metrics: (n, n_bits) float32, positive means 0 is likelier.
        generator: (n_info, n_bits).
    """
    order = xp.argsort(-xp.abs(metrics), axis=1, kind="stable")
    columns = xp.asarray(np.ascontiguousarray(generator.T))[order]
    rows, pivots, others = _eliminated(xp, xp.ascontiguousarray(columns.transpose(0, 2, 1)))
    ordered = xp.take_along_axis(metrics, order, axis=1)
    of_pivots = xp.take_along_axis(ordered, pivots, axis=1)
    of_others = xp.take_along_axis(ordered, others, axis=1)
    decided = (of_pivots < 0).astype(xp.uint8)
    at_others = xp.take_along_axis(rows, others[:, None, :], axis=2).astype(xp.float32)
    n_ones = xp.matmul(decided[:, None, :].astype(xp.float32), at_others)[:, 0]
    is_against = (n_ones.astype(xp.int64) & 1) ^ (of_others < 0)
    weights = xp.abs(of_others)
    return Reduced(
        order=order,
        rows=rows,
        signs=1 - 2 * at_others,
        agreement=(weights * (1 - 2 * is_against)).astype(xp.float32),
        total=weights.sum(axis=1),
        costs=xp.abs(of_pivots),
        decided=decided,
    )


def words_of(xp: Namespace, reduced: Reduced, flipped: Array) -> Array:
    """(n, n_words, n_bits) uint8 codewords, from flips (n, n_words, depth), -1 for none."""
    n, n_words, _ = flipped.shape
    n_info, n_bits = reduced.rows.shape[1:]
    bits = xp.repeat(reduced.decided[:, None, :], n_words, axis=1)
    for flip in flipped.transpose(2, 0, 1):
        bits ^= xp.arange(n_info) == flip[:, :, None]
    n_ones = xp.matmul(bits.astype(xp.float32), reduced.rows.astype(xp.float32))
    words = xp.empty((n, n_words, n_bits), xp.uint8)
    places = xp.broadcast_to(reduced.order[:, None, :], words.shape)
    values = (n_ones.astype(xp.int64) & 1).astype(xp.uint8)
    words[xp.arange(n)[:, None, None], xp.arange(n_words)[:, None], places] = values
    return words


def up_to_pairs(xp: Namespace, reduced: Reduced) -> tuple[Array, NDArray[np.int64]]:
    """(n, n_sets) distances of no, one and two flips, and those sets (n_sets, 2)."""
    n_info = reduced.costs.shape[1]
    first, second = np.triu_indices(n_info, 1)
    weighed = reduced.signs * reduced.agreement[:, None, :]
    products = xp.matmul(weighed, reduced.signs.transpose(0, 2, 1))
    pairs = products[:, xp.asarray(first), xp.asarray(second)]
    sums = xp.concatenate([reduced.agreement.sum(axis=1)[:, None], weighed.sum(axis=2), pairs], 1)
    costs = reduced.costs
    of_pairs = costs[:, xp.asarray(first)] + costs[:, xp.asarray(second)]
    all_costs = xp.concatenate([xp.zeros((costs.shape[0], 1), xp.float32), costs, of_pairs], 1)
    sets = np.full((1 + n_info + first.size, 2), -1)
    sets[1 : 1 + n_info, 0] = np.arange(n_info)
    sets[1 + n_info :] = np.stack([first, second], axis=1)
    return all_costs + (reduced.total[:, None] - sums) / 2, sets


def nearest_words(xp: Namespace, metrics: NDArray[np.float32], generator: Bits) -> Bits:
    """(n, n_bits): for every row of metrics the word of `decode_ordered_statistics`, depth 2."""
    found = [np.empty((0, metrics.shape[1]), np.uint8)]
    for first in range(0, metrics.shape[0], N_AT_ONCE):
        reduced = reduce(xp, xp.asarray(metrics[first : first + N_AT_ONCE]), generator)
        distances, sets = up_to_pairs(xp, reduced)
        chosen = xp.asarray(sets)[distances.argmin(axis=1)]
        found.append(on_host(words_of(xp, reduced, chosen[:, None, :]))[:, 0])
    return np.concatenate(found)
