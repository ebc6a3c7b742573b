"""An adaptive predictor of lines, and what it cannot foresee."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def without_predictable(
    samples: NDArray[np.float64], delay: int, n_taps: int, step: float, least_power: float
) -> NDArray[np.float64]:
    """Samples less what a normalised least-mean-square filter foresees from older ones.

    y[n] = x[n] - sum_k w_k x[n - delay - k];  w_k += step * y[n] * x[n - delay - k] / power,
    power the sum of squares of those samples plus `least_power`.

    Args:
        samples: (n_samples,).
        delay: age of the youngest sample used, at least 1.
        n_taps: number of weights, all 0 at the beginning.
        step: 0 < step < 2 is stable.
        least_power: keeps the step small in silence.
    Returns: (n_samples,) float64.
    """
    out = samples.copy()
    weights = np.zeros(n_taps)
    power = 0.0
    for n in range(delay + n_taps, samples.size):
        youngest = n - delay
        foreseen = 0.0
        power = 0.0
        for k in range(n_taps):
            x = samples[youngest - k]
            foreseen += weights[k] * x
            power += x * x
        error = samples[n] - foreseen
        out[n] = error
        scale = step * error / (power + least_power)
        for k in range(n_taps):
            weights[k] += scale * samples[youngest - k]
    return out
