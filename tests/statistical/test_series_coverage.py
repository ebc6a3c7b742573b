"""Intervals of means of correlated series hold the truth as often as they say."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from solidcopy.statistics.series import mean_of_series, ratio_of_means

N_PAIRS = 400
"""The standard error of a coverage near 95 % is then 1.1 %."""


def wandering(generator: np.random.Generator, n_values: int, memory: float) -> NDArray[np.float64]:
    """Mean 1, standard deviation 0.1, each value remembering the one before."""
    drawn = generator.standard_normal(n_values + 400)
    told = lfilter([np.sqrt(1.0 - memory**2)], [1.0, -memory], drawn)[400:]
    return np.asarray(1.0 + 0.1 * told)


@pytest.mark.derived
@pytest.mark.parametrize(
    ("memory", "n_values", "least"),
    [(0.0, 60, 0.93), (0.0, 240, 0.93), (0.5, 60, 0.92), (0.5, 240, 0.93), (0.9, 600, 0.92)],
)
def test_coverage(memory: float, n_values: int, least: float) -> None:
    generator = np.random.default_rng(17)
    n_told = n_held = 0
    for _ in range(N_PAIRS):
        pair = [mean_of_series(wandering(generator, n_values, memory)) for _ in range(2)]
        ratio = ratio_of_means(pair[0], pair[1])
        assert ratio is not None
        if all(one.is_enough for one in pair):
            n_told += 1
            n_held += ratio.low < 0.0 < ratio.high
    assert n_told > 0.8 * N_PAIRS
    assert n_held / n_told >= least


@pytest.mark.authority  # textbook: variance of a mean of an autoregression, (1 + a) / (1 - a)
def test_independent_values_of_a_long_series() -> None:
    generator = np.random.default_rng(18)
    for memory in (0.0, 0.5, 0.8):
        found = mean_of_series(wandering(generator, 20_000, memory))
        expected = 20_000 * (1.0 - memory) / (1.0 + memory)
        assert found.n_effective == pytest.approx(expected, rel=0.15)


@pytest.mark.derived
def test_series_that_wander_slowly_are_not_enough() -> None:
    generator = np.random.default_rng(19)
    enough = [mean_of_series(wandering(generator, 60, 0.97)).is_enough for _ in range(100)]
    assert np.mean(enough) < 0.3
    with pytest.raises(ValueError, match="at least 16"):
        mean_of_series(np.ones(15))
    steady = mean_of_series(np.ones(20))
    assert steady.standard_error == 0.0 and steady.is_enough
    assert ratio_of_means(steady, mean_of_series(np.zeros(20))) is None
