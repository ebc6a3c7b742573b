"""A chain of two states."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def two_state_chain(
    uniform_draws: NDArray[np.float64], p_on: float, p_begin: float, p_stay: float
) -> NDArray[np.bool_]:
    """Markov chain of two states, one draw a step.

    Args:
        uniform_draws: (n,) float64 in [0, 1).
        p_on: probability that the first step is on.
        p_begin: probability of on after off.
        p_stay: probability of on after on.
    Returns: (n,) bool.
    """
    states = np.empty(uniform_draws.size, dtype=np.bool_)
    threshold = p_on
    for i in range(uniform_draws.size):
        is_on = uniform_draws[i] < threshold
        states[i] = is_on
        threshold = p_stay if is_on else p_begin
    return states
