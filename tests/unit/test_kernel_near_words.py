"""Lists of near codewords: compiled, plain Python and trying every set of flips agree."""

from itertools import combinations

import numpy as np
import pytest

from solidcopy.kernels.near_words import near_words, tone_log_likelihoods
from solidcopy.kernels.ordered_statistics import (
    decode_ordered_statistics,
    most_reliable_basis,
)
from solidcopy.kernels.phase_walk import walk_log_likelihood
from solidcopy.modes.registry import mode_named

GENERATOR_77 = mode_named("ft8").layout.code.payload_generator


def small_code(rng, n_info=8, n_bits=20):
    """A systematic random code, so of full rank."""
    parity = rng.integers(0, 2, (n_info, n_bits - n_info))
    return np.hstack([np.eye(n_info, dtype=np.uint8), parity]).astype(np.uint8)


def every_near_word(metrics, generator, depth):
    """Distances and words of all sets of at most `depth` flips, one after the other."""
    order = np.argsort(-np.abs(metrics))
    _, pivots, _ = most_reliable_basis(generator, order)
    places = order[pivots]
    messages = np.array(list(np.ndindex(*(2,) * generator.shape[0])))
    words = messages @ generator % 2
    is_wrong = words != (metrics < 0)
    is_near = is_wrong[:, places].sum(axis=1) <= depth
    return (is_wrong * np.abs(metrics)).sum(axis=1)[is_near], words[is_near]


@pytest.mark.derived
@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize(("depth", "n_most"), [(0, 5), (1, 4), (2, 10), (3, 30), (4, 500)])
def test_the_list_is_that_of_trying_every_set(plain, depth, n_most):
    rng = np.random.default_rng(61)
    run = near_words.py_func if plain else near_words
    for _ in range(3):
        generator = small_code(rng)
        metrics = rng.standard_normal(20).astype(np.float32)
        distances, words = every_near_word(metrics, generator, depth)
        expected = words[np.argsort(distances)[:n_most]]
        np.testing.assert_array_equal(run(metrics, generator, depth, n_most), expected)


@pytest.mark.derived
def test_number_of_sets_without_a_limit():
    rng = np.random.default_rng(62)
    words = near_words(rng.standard_normal(20).astype(np.float32), small_code(rng), 3, 1000)
    n_sets = sum(len(list(combinations(range(8), n))) for n in range(4))
    assert len(np.unique(words, axis=0)) == len(words) == n_sets


@pytest.mark.derived
def test_the_first_of_the_list_is_the_nearest_word():
    rng = np.random.default_rng(63)
    for _ in range(5):
        metrics = rng.normal(1.0, 1.0, 174).astype(np.float32)
        nearest, _ = decode_ordered_statistics(metrics, GENERATOR_77, 2)
        np.testing.assert_array_equal(near_words(metrics, GENERATOR_77, 2, 50)[0], nearest)


@pytest.mark.derived  # phase_walk.py has its own check against enumeration
@pytest.mark.parametrize("plain", [False, True])
def test_sequences_have_the_likelihood_of_their_phase_walk(plain):
    run = tone_log_likelihoods.py_func if plain else tone_log_likelihoods
    rng = np.random.default_rng(64)
    likelihoods = rng.uniform(0.05, 1.0, (79, 8, 32)).astype(np.float32)
    steps = rng.dirichlet(np.ones(32)).astype(np.float32)
    tones = rng.integers(0, 8, (3, 79))
    for found, own in zip(run(likelihoods, tones, steps), tones, strict=True):
        cells = likelihoods[np.arange(79), own].astype(float)
        assert found == pytest.approx(walk_log_likelihood(cells, steps.astype(float)), abs=1e-3)
