"""Samples with their rate."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]
"""Real samples, one channel, (n_samples,) float64, full scale ±1.0."""

AnalyticSamples = NDArray[np.complex128]
"""Analytic (one-sided) samples; the real part is what a loudspeaker would play."""


@dataclass(frozen=True, slots=True, eq=False)
class Waveform:
    """Real audio, one channel: `samples` (n_samples,) float32, full scale ±1.0.

    float32 is what travels to receivers and into digests; levels are computed in float64.
    """

    samples: NDArray[np.float32]
    sample_rate_hz: int

    def __post_init__(self) -> None:
        if self.samples.ndim != 1 or self.samples.dtype != np.float32:
            raise TypeError("samples must be (n_samples,) float32")
        if self.sample_rate_hz <= 0:
            raise ValueError(f"sample_rate_hz must be positive, not {self.sample_rate_hz}")

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.samples.size / self.sample_rate_hz
