"""Change of sample rate by a filter good enough to measure through."""

from typing import Any, cast

import numpy as np
import soxr
from numpy.typing import NDArray

QUALITY = "VHQ"
"""Passes 91 % of the lower half rate; residuals below -120 dB (test_signals_files.py)."""


def resampled(
    samples: NDArray[np.floating[Any]], *, from_hz: float, to_hz: float
) -> NDArray[np.floating[Any]]:
    """The same audio at another rate; precision kept; unchanged if the rates are equal.

    Args:
        samples: (n_samples,) float32 or float64.
        from_hz, to_hz: sample rates.
    Returns: (about n_samples * to_hz / from_hz,); content above the lower half rate is removed.
    """
    if from_hz == to_hz:
        return samples
    return cast(NDArray[np.floating[Any]], soxr.resample(samples, from_hz, to_hz, quality=QUALITY))
