"""Ordered statistics: compiled, plain Python and re-encoding every pattern agree."""

from itertools import combinations

import galois
import numpy as np
import pytest

from solidcopy.kernels.ordered_statistics import (
    decode_ordered_statistics,
    most_reliable_basis,
    packed_penalty,
    penalty_table,
)
from solidcopy.modes.ldpc174.code import GENERATOR_77, GENERATOR_91


def noisy_metrics(rng, sigma):
    """A word of the code, sent as +1 and -1 through white noise."""
    word = rng.integers(0, 2, 77) @ GENERATOR_77 % 2
    received = 1.0 - 2.0 * word + sigma * rng.standard_normal(word.size)
    return word, received.astype(np.float32)


def brute_force(metrics, generator, depth):
    """Re-encode every pattern of up to `depth` flips of the most reliable independent bits.

    The independent bits come from galois' row reduction, not from ours.
    """
    order = np.argsort(-np.abs(metrics), kind="stable")
    reduced = np.asarray(galois.GF2(generator[:, order]).row_reduce())
    pivots = np.argmax(reduced, axis=1)
    hard = (metrics[order] < 0).astype(int)
    best = (np.inf, None)
    for n in range(depth + 1):
        for flipped in combinations(range(pivots.size), n):
            chosen = hard[pivots].copy()
            chosen[list(flipped)] ^= 1
            word = chosen @ reduced % 2
            distance = np.abs(metrics[order])[word != hard].sum()
            if distance < best[0]:
                best = (distance, word)
    codeword = np.empty(order.size, int)
    codeword[order] = best[1]
    return codeword, best[0]


@pytest.mark.authority  # galois: row reduction over GF(2)
@pytest.mark.parametrize("depth", [0, 1, 2])
def test_finds_what_re_encoding_every_pattern_finds(depth):
    rng = np.random.default_rng(6)
    for sigma in (0.6, 0.9):
        _, metrics = noisy_metrics(rng, sigma)
        expected, distance = brute_force(metrics, GENERATOR_91, depth)
        codeword, found = decode_ordered_statistics(metrics, GENERATOR_91, depth)
        np.testing.assert_array_equal(codeword, expected)
        assert found == pytest.approx(distance, rel=1e-5)


@pytest.mark.derived
def test_plain_python_agrees_on_a_small_code():
    rng = np.random.default_rng(7)
    generator = np.concatenate([np.eye(6), rng.integers(0, 2, (6, 9))], axis=1).astype(np.uint8)
    generator.flags.writeable = False  # as the code's own tables: no second compilation
    for _ in range(20):
        metrics = rng.standard_normal(15).astype(np.float32)
        codeword, distance = decode_ordered_statistics(metrics, generator, 2)
        plain, plain_distance = decode_ordered_statistics.py_func(metrics, generator, 2)
        expected, _ = brute_force(metrics, generator, 2)
        np.testing.assert_array_equal(codeword, plain)
        np.testing.assert_array_equal(codeword, expected)
        assert distance == pytest.approx(plain_distance, rel=1e-6)


@pytest.mark.authority  # galois: row reduction over GF(2)
@pytest.mark.parametrize("depth", [3, 4])
def test_many_flips_find_what_re_encoding_every_pattern_finds(depth):
    rng = np.random.default_rng(11)
    parity = rng.integers(0, 2, (16, 80))  # more parity than one machine word
    generator = np.concatenate([np.eye(16), parity], axis=1).astype(np.uint8)
    generator.flags.writeable = False
    n_nearer = 0
    for run in (decode_ordered_statistics, decode_ordered_statistics.py_func):
        for _ in range(6):
            # Nearly equal reliabilities make the deepest patterns the likeliest to be nearest.
            signs = rng.choice([-1.0, 1.0], 96)
            metrics = (signs * rng.uniform(0.9, 1.1, 96)).astype(np.float32)
            expected, distance = brute_force(metrics, generator, depth)
            codeword, found = run(metrics, generator, depth)
            np.testing.assert_array_equal(codeword, expected)
            assert found == pytest.approx(distance, rel=1e-5)
            n_nearer += found < decode_ordered_statistics(metrics, generator, depth - 1)[1]
    assert n_nearer > 0


@pytest.mark.derived
def test_basis_spans_the_same_code():
    rng = np.random.default_rng(8)
    order = rng.permutation(174)
    for run in (most_reliable_basis, most_reliable_basis.py_func):
        rows, pivots, others = run(GENERATOR_91, order)
        bits = np.unpackbits(rows.view(np.uint8), axis=1, bitorder="little")[:, :174]
        np.testing.assert_array_equal(bits[:, pivots], np.eye(91, dtype=np.uint8))
        np.testing.assert_array_equal(np.sort([*pivots, *others]), np.arange(174))
        words = np.empty_like(bits)
        words[:, order] = bits
        np.testing.assert_array_equal(words, words[:, :91] @ GENERATOR_91 % 2)


@pytest.mark.derived
@pytest.mark.parametrize("plain", [False, True])
def test_packed_penalties_are_sums_of_weights(plain):
    rng = np.random.default_rng(9)
    weights = rng.random(83).astype(np.float32)
    bits = rng.integers(0, 2, 83, dtype=np.uint8)
    packed = np.packbits(np.pad(bits, (0, 45)), bitorder="little").view(np.uint64)
    table_of = penalty_table.py_func if plain else penalty_table
    penalty = packed_penalty.py_func if plain else packed_penalty
    table = table_of(weights)
    total = penalty(packed[0], packed[1], table, 0.5, np.inf)
    assert total == pytest.approx(0.5 + float(weights[bits > 0].sum()), rel=1e-6)


@pytest.mark.derived
def test_a_right_word_is_found_beyond_the_hard_decisions():
    rng = np.random.default_rng(10)
    for _ in range(20):
        word, metrics = noisy_metrics(rng, 0.6)
        assert ((metrics < 0) != word).any()
        codeword, _ = decode_ordered_statistics(metrics, GENERATOR_91, 2)
        np.testing.assert_array_equal(codeword, word)
