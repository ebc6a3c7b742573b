"""Many codewords near to soft bits, and how well each fits a carrier whose phase walks."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot
from solidcopy.kernels.ordered_statistics import (
    packed_penalty,
    penalty_table,
    reduced_problem,
)
from solidcopy.kernels.phase_trellis import LEAST_TOTAL, move_phases


@hot
def near_flips(
    parity: tuple[np.uint64, np.uint64],
    packed_rows: tuple[NDArray[np.uint64], NDArray[np.uint64]],
    flips: NDArray[np.float32],
    table: NDArray[np.float32],
    limits: tuple[int, int],
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The sets of flipped pivots whose codewords contradict the metrics least.

    Args:
        parity, packed_rows, flips, table: as in `ordered_statistics.nearest_flips`.
        limits: most flips, and most sets kept.
    Returns: distances (n,) and pivots (n, most flips), padded with -1; in no order.
    """
    depth, n_most = limits
    low_rows, high_rows = packed_rows
    low, high = np.empty(depth + 1, np.uint64), np.empty(depth + 1, np.uint64)
    costs = np.zeros(depth + 1)
    pivots = np.full(depth + 1, -1, np.int64)
    low[0], high[0] = parity
    totals = np.empty(2 * n_most)
    kept = np.full((2 * n_most, depth), -1, np.int64)
    totals[0] = packed_penalty(low[0], high[0], table, 0.0, np.inf)
    n_kept, limit = 1, np.inf
    n = 1 if depth > 0 else 0
    pivots[n] = flips.size
    # The walk is that of `nearest_flips`; the limit falls whenever the room is full.
    while n > 0:
        pivot = pivots[n] - 1
        pivots[n] = pivot
        if pivot <= pivots[n - 1] or costs[n - 1] + float(flips[pivot]) >= limit:
            n -= 1
            continue
        costs[n] = costs[n - 1] + float(flips[pivot])
        low[n], high[n] = low[n - 1] ^ low_rows[pivot], high[n - 1] ^ high_rows[pivot]
        total = packed_penalty(low[n], high[n], table, costs[n], limit)
        if total < limit:
            totals[n_kept] = total
            kept[n_kept] = -1
            kept[n_kept, :n] = pivots[1 : n + 1]
            n_kept += 1
            if n_kept == totals.size:
                best = np.argsort(totals)[:n_most]
                limit = totals[best[n_most - 1]]
                totals[:n_most], kept[:n_most] = totals[best], kept[best]
                n_kept = n_most
        if n < depth:
            n += 1
            pivots[n] = flips.size
    return totals[:n_kept], kept[:n_kept]


@hot
def near_words(
    metrics: NDArray[np.float32], generator: NDArray[np.uint8], depth: int, n_most: int
) -> NDArray[np.uint8]:
    """The codewords nearest to the metrics among all with at most `depth` flipped pivots.

    Args:
        metrics, generator, depth: as in `ordered_statistics.decode_ordered_statistics`.
        n_most: most words.
    Returns: (n_words, n_bits) uint8, the nearest first.
    Source: order-i reprocessing with a list is textbook, from memory.
    """
    order, rows, _, packed_rows, parity, weights, flips, decided = reduced_problem(
        metrics, generator
    )
    contradictions, limits = (parity[0], parity[1]), (depth, n_most)
    table = penalty_table(weights)
    totals, flipped = near_flips(contradictions, packed_rows, flips, table, limits)
    best = np.argsort(totals)[:n_most]
    one = np.uint64(1)
    words = np.zeros((best.size, metrics.size), np.uint8)
    packed = np.empty(3, np.uint64)
    for n in range(best.size):
        packed[:] = np.uint64(0)
        for i in range(decided.size):
            is_one = decided[i] == 1
            for pivot in flipped[best[n]]:
                is_one ^= pivot == i
            if is_one:
                packed ^= rows[i]
        for j in range(metrics.size):
            words[n, order[j]] = np.uint8((packed[j >> 6] >> np.uint64(j & 63)) & one)
    return words


@hot
def tone_log_likelihoods(
    likelihoods: NDArray[np.float32],
    tones: NDArray[np.int64],
    step_probabilities: NDArray[np.float32],
) -> NDArray[np.float64]:
    """Natural logarithm of the probability of several sequences of tones, the phase unknown.

    Args:
        likelihoods, step_probabilities: as in `phase_trellis.trellis_tone_weights`.
        tones: (n_words, n_symbols).
    Returns: (n_words,).
    """
    n_phases = likelihoods.shape[2]
    belief = np.empty(n_phases, np.float32)
    product = np.empty(n_phases, np.float32)
    ring = np.empty(3 * n_phases, np.float32)
    logs = np.zeros(tones.shape[0])
    for word in range(tones.shape[0]):
        belief[:] = np.float32(1.0 / n_phases)
        for symbol in range(tones.shape[1]):
            own = likelihoods[symbol, tones[word, symbol]]
            total = np.float32(0.0)
            for phase in range(n_phases):
                product[phase] = belief[phase] * own[phase]
                total += product[phase]
            total = max(total, LEAST_TOTAL)
            logs[word] += np.log(total)
            scale = np.float32(1.0) / total
            for phase in range(n_phases):
                product[phase] *= scale
            move_phases(product, step_probabilities, ring, belief, 1)
    return logs
