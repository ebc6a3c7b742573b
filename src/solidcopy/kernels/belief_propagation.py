"""Belief propagation on sparse parity checks, many words at once."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def min_sum_beliefs(
    metrics: NDArray[np.float32],
    check_positions: NDArray[np.int16],
    n_iterations: int,
    scale: float,
) -> tuple[NDArray[np.uint8], NDArray[np.int64], NDArray[np.float32]]:
    """Layered normalised min-sum decoding; words are independent of each other.

    Check by check, each of its bits is told `scale` times the smallest magnitude among the other
    bits of the check, with the product of their signs. A word is finished at the first iteration
    after which all checks hold.

    Args:
        metrics: (n_bits, n_words) float32, positive means 0 is likelier; not changed.
        check_positions: (n_checks, n_highest_weight), bit numbers of each check, padded with -1.
        n_iterations: most sweeps over all checks.
        scale: normalisation of min-sum, 0 < scale <= 1.
    Returns: bits (n_words, n_bits) uint8 of the finished words (undefined for others), the number
        of iterations used (n_words,), 0 where the checks never held, and the beliefs (n_bits,
        n_words) after the last iteration, in the metrics' scale.
    Source: normalised min-sum and layered schedule are textbook methods, from memory.
    """
    n_bits, n_words = metrics.shape
    n_checks, n_highest_weight = check_positions.shape
    factor = np.float32(scale)
    beliefs = metrics.copy()
    told = np.zeros((n_checks, n_highest_weight, n_words), np.float32)
    asked = np.empty((n_highest_weight, n_words), np.float32)
    smallest = np.empty(n_words, np.float32)
    second = np.empty(n_words, np.float32)
    sign = np.empty(n_words, np.float32)
    is_broken = np.empty(n_words, np.bool_)
    bits = np.zeros((n_words, n_bits), np.uint8)
    n_used = np.zeros(n_words, np.int64)
    for iteration in range(n_iterations):
        for check in range(n_checks):
            smallest[:] = np.float32(np.inf)
            second[:] = np.float32(np.inf)
            sign[:] = factor
            weight = 0
            for k in range(n_highest_weight):
                position = check_positions[check, k]
                if position < 0:
                    break
                weight += 1
                belief, message, question = beliefs[position], told[check, k], asked[k]
                for word in range(n_words):
                    value = belief[word] - message[word]
                    question[word] = value
                    size = abs(value)
                    sign[word] = -sign[word] if value < 0 else sign[word]
                    larger = size if size > smallest[word] else smallest[word]
                    second[word] = larger if larger < second[word] else second[word]
                    smallest[word] = size if size < smallest[word] else smallest[word]
            for k in range(weight):
                position = check_positions[check, k]
                belief, message, question = beliefs[position], told[check, k], asked[k]
                for word in range(n_words):
                    value = question[word]
                    size = second[word] if abs(value) <= smallest[word] else smallest[word]
                    answer = size * (-sign[word] if value < 0 else sign[word])
                    message[word] = answer
                    belief[word] = value + answer
        is_broken[:] = False
        for check in range(n_checks):
            sign[:] = np.float32(1.0)
            for k in range(n_highest_weight):
                position = check_positions[check, k]
                if position < 0:
                    break
                belief = beliefs[position]
                for word in range(n_words):
                    sign[word] = -sign[word] if belief[word] < 0 else sign[word]
            for word in range(n_words):
                is_broken[word] |= sign[word] < 0
        n_open = 0
        for word in range(n_words):
            if n_used[word] > 0:
                continue
            if is_broken[word]:
                n_open += 1
                continue
            n_used[word] = iteration + 1
            for position in range(n_bits):
                bits[word, position] = beliefs[position, word] < 0
        if n_open == 0:
            break
    return bits, n_used, beliefs


@hot
def decode_min_sum(
    metrics: NDArray[np.float32],
    check_positions: NDArray[np.int16],
    n_iterations: int,
    scale: float,
) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
    """Bits and iterations of `min_sum_beliefs`, which says what they are."""
    bits, n_used, _ = min_sum_beliefs(metrics, check_positions, n_iterations, scale)
    return bits, n_used
