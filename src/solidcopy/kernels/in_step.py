"""How many of some times come in step, for each of many periods."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def most_in_step(
    times_s: NDArray[np.float64], periods_s: NDArray[np.float64], reach_s: float
) -> NDArray[np.int64]:
    """Most times whose phases lie within one stretch of a period, round its end.

    Args:
        times_s: (n,).
        periods_s: (n_periods,).
        reach_s: length of the stretch, both ends included.
    Returns: (n_periods,).
    """
    most = np.zeros(periods_s.size, dtype=np.int64)
    for place in range(periods_s.size):
        period_s = periods_s[place]
        phases = np.sort(times_s % period_s)
        last = 0
        for first in range(phases.size):
            last = max(last, first)
            while last < first + phases.size:
                beyond = last - phases.size
                phase = phases[last] if beyond < 0 else phases[beyond] + period_s
                if phase > phases[first] + reach_s:
                    break
                last += 1
            most[place] = max(most[place], last - first)
    return most
