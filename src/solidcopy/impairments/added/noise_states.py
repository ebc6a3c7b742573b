"""White Gaussian noise whose power jumps between states: what its levels are and how they vary.

Whatever the states do, the samples stay uncorrelated, so the noise is white at every sample rate
and its level is stated as that of steady noise is: by its power in 2500 Hz.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.impairments.added.recording_source import NOISE_BAND_HZ
from solidcopy.impairments.impairment import Disturbance, Draw, Scene

Array = NDArray[np.float64]

LONGEST_CORRELATIONS = 30.0
"""Sums over lags end at so many correlation times."""
LONGEST_TURNS = 200.0
"""Or here, in units of 1 / bandwidth: sinc² beyond it holds 0.05 % of its area."""


@dataclass(frozen=True, slots=True)
class StateLaw:
    """How the power of a noise, of mean 1, varies from sample to sample."""

    variance: float
    correlation: Callable[[Array], Array]
    """Of the power after lags in s, all above 0."""
    correlation_s: float
    """A time over which the correlation falls by more than half; 0: none between samples."""

    def spread_of_mean(self, n_samples: int, sample_rate_hz: float) -> float:
        """Standard deviation of the mean power over some samples.

        Source: textbook: the variance of a mean of n is 1 / n times the sum over lags k from -n to
            n of (1 - |k| / n) times the autocovariance.
        """
        lag = self._lags(n_samples, sample_rate_hz)
        later = float(np.sum((1.0 - lag / n_samples) * self.correlation(lag / sample_rate_hz)))
        return math.sqrt(self.variance * (1.0 + 2.0 * later) / n_samples)

    def share_within(self, band_hz: tuple[float, float], sample_rate_hz: float) -> float:
        """Share of the power's variance that is slow enough to be seen within a band.

        Source: derived here. The power of noise within K spectrum lines, modulated, has a relative
            variance of 1 / K plus sum over k, l of (|S(k - l)|² + |S(k + l)|²) / K², with S the
            spectrum of the modulation over its mean. The sums are triangles over frequency, about 0
            and about twice the middle of the band; over time B sinc²(B lag), the second with a
            cosine (Parseval).
        """
        low_hz, high_hz = band_hz
        width_hz = high_hz - low_hz
        lag_s = self._lags(LONGEST_TURNS / width_hz * sample_rate_hz, sample_rate_hz)
        lag_s /= sample_rate_hz
        window = np.square(np.sinc(width_hz * lag_s))
        window *= 1.0 + np.cos(2.0 * math.pi * (low_hz + high_hz) * lag_s)
        later = float(np.sum(window * self.correlation(lag_s)))
        return width_hz / sample_rate_hz * (2.0 + 2.0 * later)

    def _lags(self, longest: float, sample_rate_hz: float) -> Array:
        """Lags in samples, from 1 on, at which there is any correlation."""
        reach = LONGEST_CORRELATIONS * self.correlation_s * sample_rate_hz
        return np.arange(1.0, 1.0 + min(longest, reach))


def white_in_states(
    powers: Array, law: StateLaw, scene: Scene, generator: np.random.Generator
) -> Disturbance:
    """Independent normal samples under a power that is known for each of them.

    Args:
        powers: (n_samples,) of expected mean 1; overwritten.
        law: how they came about.
        generator: n_samples normal draws.
    """
    rate_hz, band_hz = scene.sample_rate_hz, units.REFERENCE_BANDWIDTH_HZ
    share = law.share_within(NOISE_BAND_HZ, rate_hz)
    mean = float(powers.mean())
    seen = float(np.square(powers).mean()) / mean**2 - 1.0 if mean > 0.0 else 0.0
    n_independent = band_hz * scene.duration_s
    chance = math.sqrt((1.0 + law.variance * share) / n_independent)
    samples = generator.standard_normal(scene.n_samples)
    samples *= np.sqrt(powers, out=powers)
    return Disturbance(
        samples=samples,
        reference_power=2.0 * band_hz / rate_hz,
        spread_db=units.db_from_ratio(
            1.0 + math.hypot(law.spread_of_mean(scene.n_samples, rate_hz), chance)
        ),
        occupied_hz=(0.0, scene.half_rate_hz),
        draw=Draw(
            power_ratio=mean,
            residual_spread_db=units.db_from_ratio(
                1.0 + math.sqrt((1.0 + seen * share) / n_independent)
            ),
        ),
    )
