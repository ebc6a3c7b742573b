"""The phase trellis: compiled, plain Python and summing over every path agree."""

from itertools import pairwise, product

import numpy as np
import pytest

from solidcopy.kernels.phase_trellis import move_phases, trellis_tone_weights
from solidcopy.kernels.phase_walk import walk_log_likelihood


def draw(rng, n_symbols, n_tones, n_phases):
    """Likelihoods, priors and steps without any symmetry; the second symbol's tone is known."""
    likelihoods = rng.uniform(0.05, 1.0, (n_symbols, n_tones, n_phases)).astype(np.float32)
    priors = rng.dirichlet(np.ones(n_tones), n_symbols).astype(np.float32)
    priors[1] = np.arange(n_tones) == 0
    steps = rng.dirichlet(np.ones(n_phases)).astype(np.float32)
    return likelihoods, priors, steps


def sum_over_paths(likelihoods, priors, steps):
    """Probability of all symbols, and weights of tones, from every path of phases and tones."""
    n_symbols, n_tones, n_phases = likelihoods.shape
    total, weights = 0.0, np.zeros((n_symbols, n_tones))
    for phases in product(range(n_phases), repeat=n_symbols):
        moves = 1.0 / n_phases
        for before, after in pairwise(phases):
            moves *= float(steps[(after - before) % n_phases])
        for tones in product(range(n_tones), repeat=n_symbols):
            places = range(n_symbols)
            cells = np.array([likelihoods[s, tones[s], phases[s]] for s in places], float)
            chances = np.array([priors[s, tones[s]] for s in places], float)
            total += moves * cells.prod() * chances.prod()
            for s in places:
                weights[s, tones[s]] += moves * cells.prod() * np.delete(chances, s).prod()
    return np.log(total), weights / weights.max(axis=1, keepdims=True)


@pytest.mark.derived
@pytest.mark.parametrize("plain", [False, True])
def test_agrees_with_the_sum_over_every_path(plain):
    run = trellis_tone_weights.py_func if plain else trellis_tone_weights
    rng = np.random.default_rng(21)
    for _ in range(3):
        likelihoods, priors, steps = draw(rng, 4, 2, 4)
        weights = np.empty((4, 2), np.float32)
        log_likelihood = run(likelihoods, priors, steps, weights)
        expected, expected_weights = sum_over_paths(likelihoods, priors, steps)
        assert log_likelihood == pytest.approx(expected, abs=1e-5)
        np.testing.assert_allclose(weights, expected_weights, rtol=1e-5)


@pytest.mark.derived
def test_compiled_and_plain_agree_at_full_size():
    rng = np.random.default_rng(22)
    likelihoods, priors, steps = draw(rng, 79, 8, 32)
    found = []
    for run in (trellis_tone_weights, trellis_tone_weights.py_func):
        weights = np.empty((79, 8), np.float32)
        found.append((run(likelihoods, priors, steps, weights), weights))
    assert found[0][0] == pytest.approx(found[1][0], rel=1e-5)
    np.testing.assert_allclose(found[0][1], found[1][1], rtol=1e-4)


@pytest.mark.derived  # phase_walk.py has its own check against enumeration
def test_a_known_word_has_the_likelihood_of_its_phase_walk():
    rng = np.random.default_rng(23)
    likelihoods, _, steps = draw(rng, 79, 8, 32)
    tones = rng.integers(0, 8, 79)
    certain = (tones[:, None] == np.arange(8)).astype(np.float32)
    own = likelihoods[np.arange(79), tones].astype(float)
    found = trellis_tone_weights(likelihoods, certain, steps, np.empty_like(certain))
    assert found == pytest.approx(walk_log_likelihood(own, steps.astype(float)), abs=1e-3)


@pytest.mark.derived
def test_impossible_cells_give_no_nan():
    likelihoods = np.zeros((5, 2, 4), np.float32)
    weights = np.empty((5, 2), np.float32)
    steps = np.full(4, 0.25, np.float32)
    found = trellis_tone_weights(likelihoods, np.full((5, 2), 0.5, np.float32), steps, weights)
    assert np.isfinite(found)
    assert np.isfinite(weights).all()


@pytest.mark.derived
@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("direction", [1, -1])
def test_a_move_is_a_convolution_on_the_ring(plain, direction):
    run = move_phases.py_func if plain else move_phases
    rng = np.random.default_rng(24)
    beliefs, steps = rng.random((2, 6)).astype(np.float32)
    moved = np.empty(6, np.float32)
    run(beliefs, steps, np.empty(18, np.float32), moved, direction)
    matrix = np.array([[steps[(direction * (q - p)) % 6] for p in range(6)] for q in range(6)])
    np.testing.assert_allclose(moved, matrix @ beliefs, rtol=1e-6)
