"""Band-limited samples at instants between the samples."""

import math

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot

HALF_TAPS = 32
KAISER_BETA = 9.0
"""Images stay below -90 dB up to 0.9 of half the rate (test_kernel_chain.py)."""


@hot
def _interpolated(
    samples: NDArray[np.float64], slips: NDArray[np.float64], window: NDArray[np.float64]
) -> NDArray[np.float64]:
    n_half, n_steps = HALF_TAPS, (window.size - 1) // HALF_TAPS
    out = np.zeros(samples.size)
    for n in range(samples.size):
        at = n + slips[n]
        middle = math.floor(at)
        fraction = at - middle
        if fraction < 1e-12:
            if 0 <= middle < samples.size:
                out[n] = samples[int(middle)]
            continue
        # sin(pi (fraction - k)) is that of the fraction with alternating sign.
        sine = math.sin(math.pi * fraction) / math.pi
        total = 0.0
        for k in range(1 - n_half, n_half + 1):
            place = int(middle) + k
            if place < 0 or place >= samples.size:
                continue
            distance = fraction - k
            step = abs(distance) * n_steps
            lower = int(step)
            share = step - lower
            weight = window[lower] + share * (
                window[min(lower + 1, window.size - 1)] - window[lower]
            )
            sign = 1.0 if k % 2 == 0 else -1.0
            total += samples[place] * weight * sign / distance
        out[n] = total * sine
    return out


def off_grid(samples: NDArray[np.float64], slips: NDArray[np.float64]) -> NDArray[np.float64]:
    """Samples at n + slip instead of n, by a Kaiser-windowed sinc of 64 samples.

    Args:
        samples: (n_samples,); silence beyond its ends.
        slips: (n_samples,) in samples, positive is later.
    Returns: (n_samples,) float64.
    Source: textbook (from memory); error measured in tests/unit/test_kernel_chain.py.
    """
    steps = np.linspace(0.0, 1.0, HALF_TAPS * 512 + 1)
    window = np.i0(KAISER_BETA * np.sqrt(1.0 - steps**2)) / np.i0(KAISER_BETA)
    return _interpolated(samples, slips, window)
