"""Radio noise by surroundings, after ITU-R P.372: medians, deciles, spread with location.

Fa is the noise power that a lossless antenna delivers over k·T0·b, in dB. Its median falls with the
logarithm of the frequency. What is published for quiet rural surroundings has no deciles: those of
rural ones are taken then, which is our own choice and said wherever it matters.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from solidcopy import units
from solidcopy.statistics.shapes import Array

BOLTZMANN = 1.380649e-23
REFERENCE_K = 290.0
UPPER_DECILE = float(special.ndtri(0.9))
"""Standard deviations from the middle of a normal law to a decile: 1.2816."""
N_TIMES = 1001
"""Evenly probable deviations in time, over which a law is averaged."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """One row of the recommendation's tables: Fam = c − d·lg(f/MHz).

    Args:
        name: as a person asks for it.
        c, d: dB.
        time_deciles_db: from the median up to the upper, and down to the lower decile.
        location_decile_db: from the median to a decile, over places of this kind; 0: none.
        range_mhz: where the formula holds.
        has_own_deciles: False where they are those of the nearest kind.
    """

    name: str
    c: float
    d: float
    time_deciles_db: tuple[float, float]
    location_decile_db: float
    range_mhz: tuple[float, float]
    has_own_deciles: bool = True

    def median_db(self, mhz: float) -> float:
        """Fam. Raises ValueError outside the range of the formula."""
        low, high = self.range_mhz
        if not low <= mhz <= high:
            raise ValueError(f"{self.name}: frequency must lie in {low:g} to {high:g} MHz")
        return self.c - self.d * units.db_from_ratio(mhz) / 10.0

    def time_deviations(self, probabilities: Array) -> Array:
        """Deviation from the median in dB at probabilities in (0, 1), any shape: two halves of
        normal laws, one wider than the other."""
        up, down = (decile / UPPER_DECILE for decile in self.time_deciles_db)
        z = special.ndtri(probabilities)
        return np.where(z > 0.0, up, down) * z

    def location_deviations(self, probabilities: Array) -> Array:
        """Deviation of one place from the median of all such places, in dB: normal."""
        z: Array = special.ndtri(probabilities)
        return z * self.location_decile_db / UPPER_DECILE

    def share_below(self, fa_db: float, mhz: float) -> float:
        """Share of places and times of this kind at which Fa is less."""
        off_db = fa_db - self.median_db(mhz) - self.time_deviations(evenly(N_TIMES))
        if self.location_decile_db == 0.0:
            return float(np.mean(off_db > 0.0))
        return float(special.ndtr(off_db * UPPER_DECILE / self.location_decile_db).mean())

    def middle_db(self, mhz: float) -> tuple[float, float]:
        """Fa below which lies the lowest tenth of places and times, and above which the highest:
        four fifths lie between."""
        grid = np.linspace(-50.0, 50.0, 401)
        median = self.median_db(mhz)
        shares = [self.share_below(median + off, mhz) for off in grid]
        low, high = np.interp([0.1, 0.9], shares, grid)
        return median + float(low), median + float(high)


MAN_MADE_MHZ = (0.3, 250.0)
CITY = Surroundings("city", 76.8, 27.7, (11.0, 6.7), 8.4, MAN_MADE_MHZ)
RESIDENTIAL = Surroundings("residential", 72.5, 27.7, (10.6, 5.3), 5.8, MAN_MADE_MHZ)
RURAL = Surroundings("rural", 67.2, 27.7, (9.2, 4.6), 6.8, MAN_MADE_MHZ)
QUIET_RURAL = Surroundings("quiet rural", 53.6, 28.6, (9.2, 4.6), 6.8, MAN_MADE_MHZ, False)
GALACTIC = Surroundings("galactic", 52.0, 23.0, (2.0, 2.0), 0.0, (0.3, 100.0))
"""Reaches the ground only above the critical frequency of the F2 layer."""
MAN_MADE = (CITY, RESIDENTIAL, RURAL, QUIET_RURAL)
ALL = (*MAN_MADE, GALACTIC)
"""Source: P.372-17, Part 6, equation (17), Tables 1 and 2, as restated in FACTS C1. That the
spread with location is a decile, as its neighbours in the table are, is from memory."""


def evenly(n: int) -> Array:
    """The middles of n equal parts of 0 to 1."""
    return (np.arange(n) + 0.5) / n


def thermal_dbm(bandwidth_hz: float) -> float:
    """k·T0·b at 290 K: −140.00 dBm in 2500 Hz (FACTS C1)."""
    return units.db_from_ratio(BOLTZMANN * REFERENCE_K * bandwidth_hz / 1e-3)


def noise_dbm(fa_db: float, bandwidth_hz: float = units.REFERENCE_BANDWIDTH_HZ) -> float:
    """Noise power at the antenna's terminals."""
    return fa_db + thermal_dbm(bandwidth_hz)


def fa_from_dbm(level_dbm: float, bandwidth_hz: float) -> float:
    """Fa of a noise power measured at the antenna's terminals in a bandwidth."""
    if not math.isfinite(level_dbm) or not bandwidth_hz > 0.0:
        raise ValueError(f"no noise power: {level_dbm} dBm in {bandwidth_hz} Hz")
    return level_dbm - thermal_dbm(bandwidth_hz)
