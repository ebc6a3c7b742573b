"""Ordered-statistics decoding: try the few least doubtful patterns of errors."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def most_reliable_basis(
    generator: NDArray[np.uint8], order: NDArray[np.int64]
) -> tuple[NDArray[np.uint64], NDArray[np.int64], NDArray[np.int64]]:
    """Reduce a generator so that the most reliable independent bits carry the information.

    Args:
        generator: (n_info, n_bits) uint8 of rank n_info, n_bits <= 192.
        order: (n_bits,) bit numbers, most reliable first.
    Returns: the reduced rows (n_info, 3) uint64, bit j of the row (64 to a word) standing for bit
        order[j] of the codeword; the pivots (n_info,) and the other places (n_bits - n_info,),
        both as places in `order`, ascending.
    """
    n_info, n_bits = generator.shape
    one = np.uint64(1)
    rows = np.zeros((n_info, 3), np.uint64)
    for i in range(n_info):
        for j in range(n_bits):
            if generator[i, order[j]]:
                rows[i, j >> 6] |= one << np.uint64(j & 63)
    pivots = np.empty(n_info, np.int64)
    others = np.empty(n_bits - n_info, np.int64)
    n_pivots, n_others = 0, 0
    for j in range(n_bits):
        word, shift = j >> 6, np.uint64(j & 63)
        found = -1
        for i in range(n_pivots, n_info):
            if (rows[i, word] >> shift) & one:
                found = i
                break
        if found < 0:
            others[n_others] = j
            n_others += 1
            continue
        for w in range(3):
            kept = rows[found, w]
            rows[found, w] = rows[n_pivots, w]
            rows[n_pivots, w] = kept
        a, b, c = rows[n_pivots, 0], rows[n_pivots, 1], rows[n_pivots, 2]
        for i in range(n_info):
            if i != n_pivots and (rows[i, word] >> shift) & one:
                rows[i, 0] ^= a
                rows[i, 1] ^= b
                rows[i, 2] ^= c
        pivots[n_pivots] = j
        n_pivots += 1
    return rows, pivots, others


@hot
def penalty_table(weights: NDArray[np.float32]) -> NDArray[np.float32]:
    """Sum of weights for every byte of a packed pattern.

    Args:
        weights: (n_weights,) float32.
    Returns: (ceil(n_weights / 8), 256) float32: entry [k, x] is the sum of weights[8k + b] over
        the one bits b of x.
    """
    n_bytes = (weights.size + 7) // 8
    table = np.zeros((n_bytes, 256), np.float32)
    for k in range(n_bytes):
        for b in range(min(8, weights.size - 8 * k)):
            step = 1 << b
            for x in range(step):
                table[k, step + x] = table[k, x] + weights[8 * k + b]
    return table


@hot
def packed_penalty(
    low: np.uint64, high: np.uint64, table: NDArray[np.float32], base: float, limit: float
) -> float:
    """`base` plus the table's sum for a pattern of up to 128 bits; may stop once over `limit`."""
    n_bytes = table.shape[0]
    total = base
    byte = np.uint64(255)
    for k in range(min(8, n_bytes)):
        total += table[k, (low >> np.uint64(8 * k)) & byte]
        if total >= limit:
            return float(total)
    for k in range(8, n_bytes):
        total += table[k, (high >> np.uint64(8 * (k - 8))) & byte]
    return float(total)


@hot
def packed_columns(
    rows: NDArray[np.uint64], places: NDArray[np.int64]
) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
    """Chosen places of packed rows, packed anew: (n_rows,) for the first 64, then for the rest."""
    n_rows = rows.shape[0]
    one = np.uint64(1)
    low = np.zeros(n_rows, np.uint64)
    high = np.zeros(n_rows, np.uint64)
    for m in range(places.size):
        word, shift = places[m] >> 6, np.uint64(places[m] & 63)
        target = one << np.uint64(m & 63)
        packed = low if m < 64 else high
        for i in range(n_rows):
            if (rows[i, word] >> shift) & one:
                packed[i] |= target
    return low, high


@hot
def nearest_flips(
    parity: tuple[np.uint64, np.uint64],
    packed_rows: tuple[NDArray[np.uint64], NDArray[np.uint64]],
    flips: NDArray[np.float32],
    table: NDArray[np.float32],
    depth: int,
) -> tuple[float, NDArray[np.int64]]:
    """The flips of pivots, `depth` at most, whose codeword contradicts the metrics least.

    Args:
        parity: contradictions of the parity places where no pivot is flipped, packed.
        packed_rows: parity places of each pivot's row, packed.
        flips: (n_info,) float32, cost of flipping a pivot, falling.
        table: from `penalty_table`, of the parity places.
        depth: most flips.
    Returns: the distance, and the pivots flipped.
    """
    low_rows, high_rows = packed_rows
    n_info = flips.size
    low, high = np.empty(depth + 1, np.uint64), np.empty(depth + 1, np.uint64)
    costs = np.zeros(depth + 1)
    pivots = np.full(depth + 1, -1, np.int64)
    low[0], high[0] = parity
    best = packed_penalty(low[0], high[0], table, 0.0, np.inf)
    chosen = pivots[1:1].copy()
    # Flip number `n` runs from the least reliable pivot, the likeliest to be wrong, down to the
    # one after flip number `n - 1`. So `best` falls early, and as costs only rise on the way, the
    # first flip too dear ends the run.
    n = 1 if depth > 0 else 0
    pivots[n] = n_info
    while n > 0:
        pivot = pivots[n] - 1
        pivots[n] = pivot
        if pivot <= pivots[n - 1] or costs[n - 1] + float(flips[pivot]) >= best:
            n -= 1
            continue
        costs[n] = costs[n - 1] + float(flips[pivot])
        low[n], high[n] = low[n - 1] ^ low_rows[pivot], high[n - 1] ^ high_rows[pivot]
        total = packed_penalty(low[n], high[n], table, costs[n], best)
        if total < best:
            best, chosen = total, pivots[1 : n + 1].copy()
        if n < depth:
            n += 1
            pivots[n] = n_info
    return best, chosen


@hot
def reduced_problem(
    metrics: NDArray[np.float32], generator: NDArray[np.uint8]
) -> tuple[
    NDArray[np.int64],
    NDArray[np.uint64],
    NDArray[np.int64],
    tuple[NDArray[np.uint64], NDArray[np.uint64]],
    NDArray[np.uint64],
    NDArray[np.float32],
    NDArray[np.float32],
    NDArray[np.uint8],
]:
    """What the search of flips needs to know of metrics and code.

    Args: as in `decode_ordered_statistics`.
    Returns: order of the bits, most reliable first; reduced rows and pivots of
        `most_reliable_basis`; the rows' parity places, packed; contradictions of the parity
        places where no pivot is flipped, packed (2,); their weights; cost of flipping each
        pivot; and the pivots' bits as decided by sign.
    """
    n_info, n_bits = generator.shape
    n_parity = n_bits - n_info
    one = np.uint64(1)
    order = np.argsort(-np.abs(metrics), kind="mergesort")
    rows, pivots, others = most_reliable_basis(generator, order)
    low_rows, high_rows = packed_columns(rows, others)
    parity_weights = np.empty(n_parity, np.float32)
    flips = np.empty(n_info, np.float32)
    decided = np.zeros(n_info, np.uint8)
    low, high = np.uint64(0), np.uint64(0)
    for m in range(n_parity):
        value = metrics[order[others[m]]]
        parity_weights[m] = abs(value)
        if value < 0:
            if m < 64:
                low ^= one << np.uint64(m)
            else:
                high ^= one << np.uint64(m - 64)
    for i in range(n_info):
        value = metrics[order[pivots[i]]]
        flips[i] = abs(value)
        if value < 0:
            decided[i] = 1
            low ^= low_rows[i]
            high ^= high_rows[i]
    parity = np.array([low, high], dtype=np.uint64)
    return order, rows, pivots, (low_rows, high_rows), parity, parity_weights, flips, decided


@hot
def decode_ordered_statistics(
    metrics: NDArray[np.float32], generator: NDArray[np.uint8], depth: int
) -> tuple[NDArray[np.uint8], float]:
    """The codeword nearest to the metrics among all with at most `depth` flipped pivots.

    The bits are sorted by |metric|, the most reliable independent ones (the pivots) are decided
    by sign, up to `depth` of them are flipped, and each choice is completed to a codeword. The
    nearest has the least sum of |metric| over the bits where it contradicts the signs.

    Args:
        metrics: (n_bits,) float32, positive means 0 is likelier.
        generator: (n_info, n_bits) uint8 of full rank; n_bits <= 192, n_bits - n_info <= 128.
        depth: most flips; the time grows as n_info^depth / depth!.
    Returns: codeword (n_bits,) uint8 and its distance (that sum).
    Source: the method is textbook (order-i reprocessing), from memory.
    """
    order, rows, _, packed_rows, parity, weights, flips, decided = reduced_problem(
        metrics, generator
    )
    contradictions = parity[0], parity[1]
    best, chosen = nearest_flips(contradictions, packed_rows, flips, penalty_table(weights), depth)
    n_info, n_bits = generator.shape
    one = np.uint64(1)
    for flipped in chosen:
        decided[flipped] ^= 1
    codeword = np.zeros(n_bits, np.uint8)
    for i in range(n_info):
        if decided[i]:
            for j in range(n_bits):
                codeword[order[j]] ^= np.uint8((rows[i, j >> 6] >> np.uint64(j & 63)) & one)
    return codeword, best
