"""The SNR of a path as it may be: what is not known of a station, and what changes from hour to
hour, drawn at random."""

from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.statistics.shapes import Array
from solidcopy.translate.link import Link, snr_db
from solidcopy.translate.noise_sum import power_sum_db
from solidcopy.translate.surroundings import GALACTIC, Surroundings

N_TIMES = 200
"""Hours drawn for each station."""


@dataclass(frozen=True, slots=True)
class OuterNoise:
    """Noise from outside at the receiving place.

    Args:
        mhz: frequency.
        kind: surroundings after P.372: their median, spread with location and deciles in time;
            beside a measured noise only the deciles in time are taken from it. None: steady noise.
        measured_fa_db: the user's own measurement, in place of median and location.
        measured_error_db: standard deviation of that measurement.
        has_galactic: whether galactic noise reaches the ground and is added.
    """

    mhz: float
    kind: Surroundings | None = None
    measured_fa_db: float | None = None
    measured_error_db: float = 0.0
    has_galactic: bool = False

    def __post_init__(self) -> None:
        if self.kind is None and self.measured_fa_db is None:
            raise ValueError("give surroundings, or a measured noise, or both")

    @property
    def middle_fa_db(self) -> float:
        """The most usual outer noise, galactic noise added."""
        middle = self._middle_db()
        if not self.has_galactic:
            return middle
        return power_sum_db([middle, GALACTIC.median_db(self.mhz)])

    def draw(self, n_stations: int, generator: np.random.Generator) -> Array:
        """Outer noise over k·T0·b as power ratios, (n_stations, N_TIMES).

        Deviations with time and with location are independent, and so are sources: supposed here.
        """
        places, times = (n_stations, 1), (n_stations, N_TIMES)
        level_db = np.full(times, self._middle_db())
        if self.measured_fa_db is not None:
            level_db += self.measured_error_db * generator.standard_normal(places)
        elif self.kind is not None:
            level_db += self.kind.location_deviations(generator.random(places))
        if self.kind is not None:
            level_db += self.kind.time_deviations(generator.random(times))
        ratio = units.ratios_from_db(level_db)
        if self.has_galactic:
            deviation = GALACTIC.time_deviations(generator.random(times))
            ratio += units.ratios_from_db(GALACTIC.median_db(self.mhz) + deviation)
        return ratio

    def _middle_db(self) -> float:
        if self.measured_fa_db is not None:
            return self.measured_fa_db
        assert self.kind is not None
        return self.kind.median_db(self.mhz)


@dataclass(frozen=True, slots=True)
class UncertainLink:
    """A path, and how far it may be off.

    Args:
        link: every number in the middle.
        noise: at the receiving place.
        loss_error_db: standard deviation of the path's loss, the same at all hours of a station.
    """

    link: Link
    noise: OuterNoise
    loss_error_db: float = 0.0

    def draw_snr(self, n_stations: int, generator: np.random.Generator) -> Array:
        """SNR in 2500 Hz, (n_stations, N_TIMES): a row is one station that may be this one."""
        error_db = self.loss_error_db * generator.standard_normal((n_stations, 1))
        return snr_db(self.link, self.noise.draw(n_stations, generator)) - error_db
