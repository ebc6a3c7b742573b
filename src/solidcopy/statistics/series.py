"""The mean of values that follow one another in time, and how sure it is.

Neighbouring seconds of a noise are alike, so they count for fewer than they are. Intervals that
take them as independent are too narrow, often by several times.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.special
from numpy.typing import NDArray

LEAST_VALUES = 16
N_BATCHES = 8
"""Their means must not scatter more than the correlation of single values explains."""
LEAST_EFFECTIVE = 12.0
"""With fewer independent values the correlation itself is not known: 95 % intervals then held the
truth in 85 of 100 series or fewer."""


@dataclass(frozen=True, slots=True)
class SeriesMean:
    """Mean of a series with its standard error."""

    mean: float
    standard_error: float
    n_values: int
    n_effective: float
    """Independent values that would make the same standard error; at most `n_values`."""

    @property
    def is_enough(self) -> bool:
        """Whether an interval may be trusted."""
        return self.n_effective >= LEAST_EFFECTIVE


@dataclass(frozen=True, slots=True)
class RatioOfMeans:
    """Natural logarithm of the ratio of two means, with its interval."""

    log_ratio: float
    low: float
    high: float
    confidence: float


def mean_of_series(values: NDArray[np.float64]) -> SeriesMean:
    """Mean and its standard error, correlation in time allowed for.

    Args:
        values: (n,) at equal steps of time; at least `LEAST_VALUES`.
    Source: the larger of two estimates: the initial monotone positive sequence of sums of
        neighbouring autocovariances (C. J. Geyer 1992), and the means of eight batches (both from
        memory). Coverage: tests/statistical/test_series_coverage.py.
    """
    n_values = values.size
    if n_values < LEAST_VALUES:
        raise ValueError(f"{n_values} values; at least {LEAST_VALUES} are needed")
    mean = float(values.mean())
    spectrum = scipy.fft.rfft(values - mean, 2 * n_values)
    covariances = scipy.fft.irfft(np.abs(spectrum) ** 2)[:n_values] / n_values
    variance = float(covariances[0])
    if variance <= 0.0:
        return SeriesMean(mean, 0.0, n_values, float(n_values))
    n_pairs = n_values // 2
    pairs = covariances[0 : 2 * n_pairs : 2] + covariances[1 : 2 * n_pairs : 2]
    is_over = np.flatnonzero(pairs <= 0.0)
    kept = np.minimum.accumulate(pairs[: is_over[0]] if is_over.size else pairs)
    of_mean = max(2.0 * float(kept.sum()) - variance, variance) / n_values
    n_long = n_values // N_BATCHES
    batches = values[: n_long * N_BATCHES].reshape(N_BATCHES, n_long).mean(axis=1)
    n_effective = variance / of_mean
    # The mean was taken off, which takes its own variance from every covariance.
    unbiased = of_mean * n_effective / max(n_effective - 1.0, 0.5)
    error = math.sqrt(max(unbiased, float(batches.var(ddof=1)) / N_BATCHES))
    return SeriesMean(mean, error, n_values, n_effective)


def ratio_of_means(
    before: SeriesMean, after: SeriesMean, *, confidence: float = 0.95
) -> RatioOfMeans | None:
    """How far the mean has moved, as a ratio; None if either is not above 0.

    Source: for small errors the logarithm's is the relative one (derived here); Student's t with
        the degrees of freedom of B. L. Welch and F. E. Satterthwaite (textbook, from memory), each
        side having those of its batches.
    """
    if before.mean <= 0.0 or after.mean <= 0.0:
        return None
    parts = [(one.standard_error / one.mean) ** 2 for one in (before, after)]
    value = math.log(after.mean / before.mean)
    variance = sum(parts)
    if variance == 0.0:
        return RatioOfMeans(value, value, value, confidence)
    weights = sum(part**2 for part in parts) / (N_BATCHES - 1)
    quantile = float(scipy.special.stdtrit(variance**2 / weights, (1.0 + confidence) / 2.0))
    half = quantile * math.sqrt(variance)
    return RatioOfMeans(value, value - half, value + half, confidence)
