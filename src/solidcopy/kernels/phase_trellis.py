"""Forward-backward recursions over symbols whose carrier phase moves on a ring."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot

LEAST_TOTAL = np.float32(1e-30)


@hot
def move_phases(
    beliefs: NDArray[np.float32],
    step_probabilities: NDArray[np.float32],
    ring: NDArray[np.float32],
    moved: NDArray[np.float32],
    direction: int,
) -> None:
    """Spread beliefs over the ring by one step.

    Args:
        beliefs: (n_phases,) float32.
        step_probabilities: (n_phases,) float32, entry d for a move by d places (modulo n_phases).
        ring: (3 * n_phases,) float32, room to work in.
        moved: (n_phases,) float32, overwritten.
        direction: 1 moves forward in time, -1 backward.
    """
    n_phases = beliefs.size
    ring[:n_phases] = beliefs
    ring[n_phases : 2 * n_phases] = beliefs
    ring[2 * n_phases :] = beliefs
    moved[:] = np.float32(0.0)
    for move in range(n_phases):
        step = step_probabilities[move]
        if step == np.float32(0.0):
            continue
        origin = n_phases - direction * move
        shifted = ring[origin : origin + n_phases]
        for phase in range(n_phases):
            moved[phase] += step * shifted[phase]


@hot
def trellis_tone_weights(
    likelihoods: NDArray[np.float32],
    priors: NDArray[np.float32],
    step_probabilities: NDArray[np.float32],
    weights: NDArray[np.float32],
) -> float:
    """What all other symbols and the phase they share say of each symbol's tone.

    The phase is even over the ring before the first symbol and moves from symbol to symbol. With
    A(s, q) the probability of phase q at symbol s and of all symbols before it, B(s, q) that of
    all symbols after it given q, and L the likelihoods, the weight of tone t at symbol s is the
    sum over q of A(s, q) B(s, q) L(s, t, q): its own prior is left out. Derived here; the
    recursion itself is textbook, from memory.

    Args:
        likelihoods: (n_symbols, n_tones, n_phases) float32, relative within a symbol; the caller
            keeps them between a small positive floor and 1.
        priors: (n_symbols, n_tones) float32, the probability of each tone; one and zeros where
            the tone is known.
        step_probabilities: (n_phases,) float32 of sum 1, entry d for a move by d places.
        weights: (n_symbols, n_tones) float32, overwritten; the largest of a symbol is 1.
    Returns: natural logarithm of the probability of all symbols.
    """
    n_symbols, n_tones, n_phases = likelihoods.shape
    least = LEAST_TOTAL
    merged = np.zeros((n_symbols, n_phases), np.float32)
    before = np.empty((n_symbols, n_phases), np.float32)
    belief = np.full(n_phases, np.float32(1.0 / n_phases), np.float32)
    product = np.empty(n_phases, np.float32)
    ring = np.empty(3 * n_phases, np.float32)
    log_likelihood = 0.0
    for symbol in range(n_symbols):
        before[symbol] = belief
        own = merged[symbol]
        for tone in range(n_tones):
            prior = priors[symbol, tone]
            if prior == np.float32(0.0):
                continue
            likelihood = likelihoods[symbol, tone]
            for phase in range(n_phases):
                own[phase] += prior * likelihood[phase]
        total = np.float32(0.0)
        for phase in range(n_phases):
            product[phase] = belief[phase] * own[phase]
            total += product[phase]
        total = max(total, least)
        log_likelihood += np.log(total)
        scale = np.float32(1.0) / total
        for phase in range(n_phases):
            product[phase] *= scale
        move_phases(product, step_probabilities, ring, belief, 1)
    belief[:] = np.float32(1.0)
    for symbol in range(n_symbols - 1, -1, -1):
        for phase in range(n_phases):
            product[phase] = before[symbol, phase] * belief[phase]
        largest = least
        for tone in range(n_tones):
            likelihood = likelihoods[symbol, tone]
            weight = np.float32(0.0)
            for phase in range(n_phases):
                weight += product[phase] * likelihood[phase]
            weights[symbol, tone] = weight
            largest = max(largest, weight)
        for tone in range(n_tones):
            weights[symbol, tone] /= largest
        total = least
        for phase in range(n_phases):
            product[phase] = belief[phase] * merged[symbol, phase]
            total += product[phase]
        scale = np.float32(1.0) / total
        for phase in range(n_phases):
            product[phase] *= scale
        move_phases(product, step_probabilities, ring, belief, -1)
    return log_likelihood
