"""The loop of an automatic gain control."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def controlled(
    envelope: NDArray[np.float64], keep: float, n_hang: int, decay: float, lowest: float
) -> NDArray[np.float64]:
    """Gain 1 / level for every sample, the level following the envelope.

    An envelope above the level draws it up: level = keep * level + (1 - keep) * envelope, and the
    hang begins anew. After `n_hang` samples without that, the level falls by the factor `decay`
    a sample, never below `lowest`.

    Args:
        envelope: (n_samples,).
        keep: share of the old level kept in each sample of attack; 0: at once.
        n_hang: samples.
        decay: amplitude factor a sample, <= 1.
        lowest: > 0.
    Returns: (n_samples,) float64.
    """
    gains = np.empty(envelope.size)
    level = lowest
    waited = 0
    for n in range(envelope.size):
        if envelope[n] > level:
            level = keep * level + (1.0 - keep) * envelope[n]
            waited = 0
        elif waited < n_hang:
            waited += 1
        else:
            level = max(level * decay, lowest)
        gains[n] = 1.0 / level
    return gains
