"""Belief propagation against the general-purpose package `ldpc`, and against its naive self."""

import numpy as np
import pytest
from ldpc import BpDecoder

from solidcopy.kernels.belief_propagation import decode_min_sum
from solidcopy.modes.ldpc174.code import CHECK_POSITIONS, GENERATOR_77

SCALE = 0.8
N_ITERATIONS = 30


def check_matrix():
    matrix = np.zeros((CHECK_POSITIONS.shape[0], 174), np.uint8)
    for row, positions in zip(matrix, CHECK_POSITIONS, strict=True):
        row[positions[positions >= 0]] = 1
    return matrix


def noisy_words(n_words, sigma, seed):
    """Words as +1 and -1 through white noise, as log-likelihood ratios ln P(0)/P(1)."""
    rng = np.random.default_rng(seed)
    words = rng.integers(0, 2, (n_words, 77)) @ GENERATOR_77 % 2
    received = 1.0 - 2.0 * words + sigma * rng.standard_normal(words.shape)
    return words, (2.0 * received / sigma**2).astype(np.float32)


def reference_words(ratios):
    """The same words by the package: min-sum with the same scaling, serial schedule.

    It decodes a syndrome, so a word is the hard decision plus the error found (FACTS H).
    """
    matrix = check_matrix()
    found = []
    for ratio in ratios:
        hard = (ratio < 0).astype(np.uint8)
        decoder = BpDecoder(
            matrix,
            error_channel=list(1.0 / (1.0 + np.exp(np.abs(ratio.astype(float))))),
            max_iter=N_ITERATIONS,
            bp_method="minimum_sum",
            ms_scaling_factor=SCALE,
            schedule="serial",
        )
        error = decoder.decode(matrix @ hard % 2)
        found.append((hard ^ error) if decoder.converge else None)
    return found


@pytest.mark.authority  # the package `ldpc`, its own min-sum decoder
@pytest.mark.parametrize("sigma", [0.66, 0.74, 0.82], ids=["easy", "middling", "hard"])
def test_decodes_the_words_that_the_package_decodes(sigma):
    words, ratios = noisy_words(200, sigma, seed=11)
    bits, n_used = decode_min_sum(
        np.ascontiguousarray(ratios.T), CHECK_POSITIONS, N_ITERATIONS, SCALE
    )
    ours = (n_used > 0) & (bits == words).all(axis=1)
    theirs = np.array(
        [
            found is not None and np.array_equal(found, word)
            for found, word in zip(reference_words(ratios), words, strict=True)
        ]
    )
    # Both run the same arithmetic but in another order of updates (ours check by check, theirs
    # bit by bit), so a few words near the limit of 30 iterations may differ, either way alike.
    only_ours, only_theirs = np.sum(ours & ~theirs), np.sum(theirs & ~ours)
    n_differ = only_ours + only_theirs
    assert n_differ <= 0.1 * words.shape[0]
    # An exact sign test would reject at 0.1 %: |difference| above 3.3 deviations of n coin flips.
    assert abs(only_ours - only_theirs) <= 3.3 * np.sqrt(max(n_differ, 4))
    assert ours.mean() > 0.02


@pytest.mark.derived
def test_plain_python_and_naive_version_agree_with_the_compiled_one():
    _, ratios = noisy_words(6, 0.74, seed=12)
    columns = np.ascontiguousarray(ratios.T)
    bits, n_used = decode_min_sum(columns, CHECK_POSITIONS, 8, SCALE)
    plain_bits, plain_used = decode_min_sum.py_func(columns, CHECK_POSITIONS, 8, SCALE)
    np.testing.assert_array_equal(n_used, plain_used)
    np.testing.assert_array_equal(bits, plain_bits)
    for ratio, word, used in zip(ratios, bits, n_used, strict=True):
        naive_word, naive_used = naive_min_sum(ratio, 8)
        assert naive_used == used
        if used:
            np.testing.assert_array_equal(naive_word, word)


def naive_min_sum(ratio, n_iterations):
    """One word, check by check, straight from the definition."""
    checks = [positions[positions >= 0] for positions in CHECK_POSITIONS]
    beliefs = ratio.astype(np.float32)
    told = [np.zeros(check.size, np.float32) for check in checks]
    for iteration in range(n_iterations):
        for number, check in enumerate(checks):
            asked = beliefs[check] - told[number]
            for k in range(check.size):
                others = np.delete(asked, k)
                sign = np.prod(np.where(others < 0, -1.0, 1.0))
                told[number][k] = np.float32(SCALE) * sign * np.abs(others).min()
            beliefs[check] = asked + told[number]
        word = (beliefs < 0).astype(np.uint8)
        if not (check_matrix() @ word % 2).any():
            return word, iteration + 1
    return word, 0


@pytest.mark.derived
def test_words_do_not_influence_each_other():
    _, ratios = noisy_words(40, 0.74, seed=13)
    together, used = decode_min_sum(
        np.ascontiguousarray(ratios.T), CHECK_POSITIONS, N_ITERATIONS, SCALE
    )
    for number in (0, 17, 39):
        alone, used_alone = decode_min_sum(
            ratios[number][:, None].copy(), CHECK_POSITIONS, N_ITERATIONS, SCALE
        )
        assert used_alone[0] == used[number]
        np.testing.assert_array_equal(alone[0], together[number])


@pytest.mark.derived
def test_scale_of_the_soft_bits_does_not_matter():
    _, ratios = noisy_words(40, 0.74, seed=14)
    columns = np.ascontiguousarray(ratios.T)
    bits, used = decode_min_sum(columns, CHECK_POSITIONS, N_ITERATIONS, SCALE)
    louder, used_louder = decode_min_sum(
        columns * np.float32(1024.0), CHECK_POSITIONS, N_ITERATIONS, SCALE
    )
    np.testing.assert_array_equal(used, used_louder)
    np.testing.assert_array_equal(bits, louder)
