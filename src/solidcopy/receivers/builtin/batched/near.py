"""Lists of the words nearest to many sets of soft bits (see `kernels.near_words`)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.batched.reduced import Reduced, up_to_pairs, words_of

N_AT_ONCE = 16
"""Words whose sets of four flips are weighed together: 34 MB each, three times at work."""
N_HALVINGS = 20
"""Of the range of distances, when the limit of the list is looked for."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sets:
    """Sets of flips that are near enough, of several words."""

    words: NDArray[np.int64]
    distances: NDArray[np.float32]
    flips: NDArray[np.int64]
    """(n, 4), padded with -1."""


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """All pairs of pivots, first < second, of n words."""

    first: NDArray[np.int64]
    second: NDArray[np.int64]
    signs: Array
    """(n, n_pairs, n_parity)."""
    costs: Array
    """(n, n_pairs)."""


def near_words(xp: Namespace, reduced: Reduced, depth: int, n_most: int) -> Array:
    """The nearest codewords among all with at most `depth` flipped pivots.

    Args:
        xp: the namespace.
        reduced: of n words.
        depth: 2, 3 or 4.
        n_most: how many.
    Returns: (n, n_most, n_bits) uint8, the nearest first.
    """
    n = reduced.costs.shape[0]
    flips = np.empty((n, n_most, 4), np.int64)
    for first in range(0, n, N_AT_ONCE):
        part = reduced.part(slice(first, first + N_AT_ONCE))
        sets = _near_sets(xp, part, depth, n_most)
        order = np.lexsort((sets.distances, sets.words))
        starts = np.searchsorted(sets.words[order], np.arange(part.costs.shape[0]))
        flips[first : first + N_AT_ONCE] = sets.flips[order[starts[:, None] + np.arange(n_most)]]
    return words_of(xp, reduced, xp.asarray(flips))


def _near_sets(xp: Namespace, reduced: Reduced, depth: int, n_most: int) -> _Sets:
    """All sets that are not farther than the list's last; a few more may be among them."""
    distances, sets = up_to_pairs(xp, reduced)
    weighed, others = [distances], [sets]
    pairs = _pairs(xp, reduced)
    if depth >= 3:
        third = np.arange(reduced.costs.shape[1])
        triples = _added(xp, reduced, pairs, reduced.signs, reduced.costs)
        triples[:, xp.asarray(third[None, :] <= pairs.second[:, None])] = xp.inf
        weighed.append(triples.reshape(triples.shape[0], -1))
        others.append(third[:, None])
    limit = _limit(xp, weighed, n_most)
    if depth >= 4:
        fours = _added(xp, reduced, pairs, pairs.signs, pairs.costs)
        fours[:, xp.asarray(pairs.first[None, :] <= pairs.second[:, None])] = xp.inf
        weighed.append(fours.reshape(fours.shape[0], -1))
        others.append(np.stack([pairs.first, pairs.second], axis=1))
    found = []
    for values, own in zip(weighed, others, strict=True):
        words, places = xp.nonzero(values <= limit[:, None])
        there = on_host(places)
        flips = np.full((there.size, 4), -1)
        flips[:, : own.shape[1]] = own[there % own.shape[0]]
        if own is not sets:
            pair = there // own.shape[0]
            flips[:, 2], flips[:, 3] = pairs.first[pair], pairs.second[pair]
        found.append(_Sets(on_host(words), on_host(values[words, places]), flips))
    return _Sets(
        np.concatenate([part.words for part in found]),
        np.concatenate([part.distances for part in found]),
        np.concatenate([part.flips for part in found]),
    )


def _pairs(xp: Namespace, reduced: Reduced) -> _Pairs:
    first, second = np.triu_indices(reduced.costs.shape[1], 1)
    here, there = xp.asarray(first), xp.asarray(second)
    return _Pairs(
        first,
        second,
        reduced.signs[:, here] * reduced.signs[:, there],
        reduced.costs[:, here] + reduced.costs[:, there],
    )


def _added(xp: Namespace, reduced: Reduced, pairs: _Pairs, signs: Array, costs: Array) -> Array:
    """(n, n_pairs, n_others) distances of every pair together with each of some other sets."""
    weighed = pairs.signs * reduced.agreement[:, None, :]
    distances = xp.matmul(weighed, signs.transpose(0, 2, 1))
    distances *= xp.float32(-0.5)
    distances += pairs.costs[:, :, None]
    distances += (costs + reduced.total[:, None] / 2)[:, None, :]
    return distances


def _limit(xp: Namespace, weighed: list[Array], n_most: int) -> Array:
    """(n,) a distance that at least `n_most` sets do not exceed, and hardly more."""
    low = weighed[0].min(axis=1)
    high = xp.partition(weighed[0], n_most - 1, axis=1)[:, n_most - 1]
    for _ in range(N_HALVINGS):
        middle = (low + high) / 2
        n_near = sum((values <= middle[:, None]).sum(axis=1) for values in weighed)
        is_enough = n_near >= n_most
        high = xp.where(is_enough, middle, high)
        low = xp.where(is_enough, low, middle)
    return high
