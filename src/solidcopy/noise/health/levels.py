"""Level, offset and peak of a channel, summed block by block in float64."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.signals.waveform import Samples


@dataclass(frozen=True, slots=True)
class Levels:
    """Of one channel of a whole recording."""

    offset: float
    """Mean of the samples, full scale ±1.0."""
    power: float
    """Mean square beside the offset."""
    lowest: float
    highest: float
    n_over_full_scale: int
    """Samples beyond ±1.0, which only float files can hold."""

    @property
    def peak(self) -> float:
        """Largest magnitude."""
        return max(self.highest, -self.lowest)

    @property
    def power_dbfs(self) -> float:
        """Level without the offset; -inf for a constant."""
        return units.dbfs_from_power(self.power)

    @property
    def offset_inflates_db(self) -> float:
        """By how much the level would be overstated if the offset were left in."""
        if self.power <= 0.0:
            return math.inf if self.offset else 0.0
        return units.db_from_ratio(1.0 + self.offset**2 / self.power)


class LevelSums:
    """Sums over the blocks of one channel."""

    def __init__(self) -> None:
        """Nothing is summed yet."""
        self._n_samples = 0
        self._sum = 0.0
        self._squares = 0.0
        self._lowest = math.inf
        self._highest = -math.inf
        self._n_over = 0

    def add(self, samples: Samples) -> bool:
        """Take in a block; False if it holds NaN or infinite samples (and is not taken in)."""
        with np.errstate(over="ignore"):  # told apart below
            squares = float(np.square(samples).sum())
        if not math.isfinite(squares):
            return False
        lowest, highest = float(samples.min()), float(samples.max())
        if lowest < -1.0 or highest > 1.0:
            self._n_over += int(np.count_nonzero(np.abs(samples) > 1.0))
        self._n_samples += samples.size
        self._sum += float(samples.sum())
        self._squares += squares
        self._lowest, self._highest = min(self._lowest, lowest), max(self._highest, highest)
        return True

    def levels(self) -> Levels:
        """Of all that was added."""
        offset = self._sum / self._n_samples
        power = max(self._squares / self._n_samples - offset * offset, 0.0)
        if self._lowest == self._highest:
            power = 0.0  # not what rounding leaves of it
        return Levels(offset, power, self._lowest, self._highest, self._n_over)
