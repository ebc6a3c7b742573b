"""Soft bits and the phase walk: compiled, plain Python and a naive version agree."""

from itertools import product

import numpy as np
import pytest

from solidcopy.kernels.block_metrics import block_bit_metrics, strongest_blocks
from solidcopy.kernels.phase_walk import walk_log_likelihood

KNOWN_TONES = np.array([-1, -1, -1, 2, -1, -1])
FIRST_BITS = np.array([0, 2, 4, -1, 6, 8])
BITS_OF_TONE = np.array([[0, 0], [0, 1], [1, 1], [1, 0]], np.uint8)


def cells(seed):
    rng = np.random.default_rng(seed)
    shape = (KNOWN_TONES.size, 4)
    return (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)).astype(np.complex64)


def naive_metrics(spectra, blocks):
    """Every sequence of every block, one after the other."""
    metrics = np.zeros((2, 10))
    for block in blocks:
        allowed = [range(4) if KNOWN_TONES[s] < 0 else [KNOWN_TONES[s]] for s in block]
        sequences = list(product(*allowed))
        sizes = np.array(
            [abs(sum(spectra[s, t] for s, t in zip(block, q, strict=True))) for q in sequences]
        )
        for member, symbol in enumerate(block):
            for bit in range(2) if FIRST_BITS[symbol] >= 0 else ():
                values = np.array([BITS_OF_TONE[q[member], bit] for q in sequences])
                best = [sizes[values == value].max() for value in (0, 1)]
                metrics[:, FIRST_BITS[symbol] + bit] = (
                    best[0] - best[1],
                    best[0] ** 2 - best[1] ** 2,
                )
    return metrics


@pytest.mark.derived
@pytest.mark.parametrize("run", [block_bit_metrics, block_bit_metrics.py_func])
@pytest.mark.parametrize(
    "blocks",
    [
        [[0], [1], [2], [4], [5]],
        [[0, 1], [2, 3], [4, 5]],
        [[0, 1, 2], [3, 4, 5]],
        [[0, 1, 2, 3], [2, 3, 4, 5]],
        [[0, 1, 2, 3, 4, 5]],
    ],
    ids=["one symbol", "two symbols", "three symbols", "four symbols", "six symbols"],
)
def test_soft_bits_are_those_of_trying_every_sequence(run, blocks):
    spectra = cells(4)
    metrics = np.zeros((2, 10), np.float32)
    run(spectra, np.array(blocks), KNOWN_TONES, BITS_OF_TONE, FIRST_BITS, metrics)
    np.testing.assert_allclose(metrics, naive_metrics(spectra, blocks), rtol=2e-5, atol=2e-5)


@pytest.mark.derived
@pytest.mark.parametrize("run", [strongest_blocks, strongest_blocks.py_func])
def test_strongest_blocks_are_those_of_trying_every_sequence(run):
    spectra = cells(6)
    blocks = np.array([[0, 1, 2], [3, 4, 5]])
    turns = np.exp(1j * np.outer([0.0, 0.7, -0.2], np.arange(6))).astype(np.complex64)
    expected = []
    for turn in turns:
        turned = spectra * turn[:, None]
        tones = [range(4) if known < 0 else [known] for known in KNOWN_TONES]
        expected.append(
            sum(
                max(
                    abs(sum(turned[s, t] for s, t in zip(block, sequence, strict=True))) ** 2
                    for sequence in product(*(tones[s] for s in block))
                )
                for block in blocks
            )
        )
    found = run(spectra, blocks, KNOWN_TONES, turns)
    np.testing.assert_allclose(found, expected, rtol=2e-5)


@pytest.mark.derived
def test_a_clean_word_gives_its_own_bits():
    tones = np.array([3, 0, 1, 2, 2, 1])
    spectra = np.zeros((6, 4), np.complex64)
    spectra[np.arange(6), tones] = np.exp(0.7j)
    metrics = np.zeros((2, 10), np.float32)
    block_bit_metrics(
        spectra, np.array([[0, 1, 2], [3, 4, 5]]), KNOWN_TONES, BITS_OF_TONE, FIRST_BITS, metrics
    )
    bits = BITS_OF_TONE[tones[FIRST_BITS >= 0]].ravel()
    np.testing.assert_array_equal(metrics < 0, np.stack([bits, bits]) > 0)


def brute_force_walk(likelihoods, steps):
    """Sum over every path of phases."""
    n_symbols, n_phases = likelihoods.shape
    total = 0.0
    for path in product(range(n_phases), repeat=n_symbols):
        p = 1.0 / n_phases
        for symbol, phase in enumerate(path):
            p *= likelihoods[symbol, phase]
            if symbol:
                p *= steps[(phase - path[symbol - 1]) % n_phases]
        total += p
    return np.log(total)


@pytest.mark.derived
@pytest.mark.parametrize("run", [walk_log_likelihood, walk_log_likelihood.py_func])
def test_phase_walk_sums_over_every_path(run):
    rng = np.random.default_rng(5)
    likelihoods = rng.exponential(size=(5, 6))
    steps = np.array([0.5, 0.2, 0.05, 0.0, 0.05, 0.2])
    assert run(likelihoods, steps) == pytest.approx(brute_force_walk(likelihoods, steps), rel=1e-12)


@pytest.mark.parametrize("run", [walk_log_likelihood, walk_log_likelihood.py_func])
def test_an_impossible_symbol_has_no_likelihood(run):
    assert run(np.zeros((3, 4)), np.full(4, 0.25)) == -np.inf
