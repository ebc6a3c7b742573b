"""A measured number with its uncertainty, or the reason why there is none."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy import units

FloatArray = NDArray[np.float64]

NORMAL_95 = 1.959964
"""Two-sided 95 % quantile of the normal distribution."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value and one standard deviation of what chance may have done to it."""

    value: float
    standard_error: float

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval, taking the error as normally distributed."""
        half = NORMAL_95 * self.standard_error
        return self.value - half, self.value + half


@dataclass(frozen=True, slots=True)
class CannotTell:
    """Length, bandwidth or strength forbids an answer; a sentence says which."""

    reason: str


Reading = Figure | CannotTell
"""A measured number, or the reason why there is none."""


def dbfs_figure(power: float, relative_error: float) -> Figure:
    """A mean power (samples squared) and its relative standard deviation as a level in dBFS."""
    return Figure(units.dbfs_from_power(power), db_error(relative_error))


def db_error(relative_error: float) -> float:
    """Standard deviation in dB of a power whose relative standard deviation is given.

    Source: derived here: d(10 lg p) = (10 / ln 10) dp / p, for small errors.
    """
    return 10.0 / math.log(10.0) * relative_error


def jackknife(blocks: FloatArray, statistic: Callable[[FloatArray], float]) -> Figure:
    """A statistic of mean moments and its standard error, by leaving out each block in turn.

    Args:
        blocks: (n_blocks, n_moments) sums of the moments over blocks of equal length, at least 2.
        statistic: of (n_moments,) sums.
    Source: the delete-one jackknife, as in any text on resampling (from memory).
    """
    n_blocks = blocks.shape[0]
    total = blocks.sum(axis=0)
    without = np.array([statistic(total - block) for block in blocks])
    spread = math.sqrt((n_blocks - 1) / n_blocks * float(np.square(without - without.mean()).sum()))
    return Figure(statistic(total), spread)
