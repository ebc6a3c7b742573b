"""Likelihood of symbols whose carrier phase takes a random walk."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def walk_log_likelihood(
    symbol_likelihoods: NDArray[np.float64], step_probabilities: NDArray[np.float64]
) -> float:
    """Natural logarithm of the probability of all symbols, the phase being unknown.

    A forward recursion over a ring of phases: before the first symbol all are equally likely;
    from symbol to symbol the phase moves by d ring places with probability step(d).

    Args:
        symbol_likelihoods: (n_symbols, n_phases) float64, one row per symbol.
        step_probabilities: (n_phases,) float64 of sum 1, entry d for a move by d places
            (modulo n_phases).
    Returns: the logarithm; -inf if some symbol is impossible in every phase.
    """
    n_symbols, n_phases = symbol_likelihoods.shape
    belief = np.full(n_phases, 1.0 / n_phases)
    weighted = np.empty(n_phases)
    log_likelihood = 0.0
    for symbol in range(n_symbols):
        total = 0.0
        for phase in range(n_phases):
            weighted[phase] = belief[phase] * symbol_likelihoods[symbol, phase]
            total += weighted[phase]
        if not total > 0.0:
            return -np.inf
        log_likelihood += np.log(total)
        belief[:] = 0.0
        for move in range(n_phases):
            step = step_probabilities[move] / total
            if step == 0.0:
                continue
            for phase in range(n_phases):
                # phase - move, taken on the ring, without a division in the innermost loop
                origin = phase - move
                if origin < 0:
                    origin += n_phases
                belief[phase] += step * weighted[origin]
    return log_likelihood
