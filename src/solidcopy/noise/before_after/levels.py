"""Levels of one recording, each with its interval."""

from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.errors import AudioFileError
from solidcopy.noise.before_after.compare import LEAST_DURATION_S, MIN_BAND_HZ, USUAL_BAND_HZ
from solidcopy.noise.before_after.course import LONG_STRETCH_S, course_of, passband_of
from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.health.levels import LevelSums
from solidcopy.signals.waveform import Waveform
from solidcopy.statistics.series import LEAST_VALUES, SeriesMean, mean_of_series, ratio_of_means

EXACTLY_ONE = SeriesMean(1.0, 0.0, LEAST_VALUES, float(LEAST_VALUES))
"""What a mean power is set against to learn its interval: a power that is known."""


@dataclass(frozen=True, slots=True)
class Level:
    """A mean power in dBFS, and what chance may have done to it."""

    dbfs: float
    interval: tuple[float, float] | CannotTell
    """95 %."""


@dataclass(frozen=True, slots=True)
class Levels:
    """Of one recording."""

    mean: Level
    """In the band of the answer, referred to 2500 Hz: that of equally dense noise there."""
    weakest_fifth: Level | CannotTell
    """The same of the weakest fifth of the moments."""
    whole: Level
    """At all frequencies."""
    peak_dbfs: float
    """Highest sample; 0 touches full scale."""
    impulses_per_minute: float | CannotTell
    n_effective: float
    """Independent stretches that the mean is worth."""


def levels_of(waveform: Waveform, band_hz: tuple[float, float], gain_db: float = 0.0) -> Levels:
    """Levels of one recording as `compare_recordings` takes them.

    Args:
        waveform: one channel, `LEAST_DURATION_S` or more.
        band_hz: of the answer.
        gain_db: known gain, taken off every level.
    """
    course = course_of(waveform, [band_hz])
    gain = units.ratio_from_db(gain_db)
    to_reference = units.REFERENCE_BANDWIDTH_HZ / (band_hz[1] - band_hz[0])
    in_band = mean_of_series(course.bands[0] * (to_reference / gain))
    sums = LevelSums()
    sums.add(waveform.samples.astype(np.float64))
    counts = course.impulse_counts
    return Levels(
        mean=_level(in_band),
        weakest_fifth=_floor(course.floors, to_reference / gain),
        whole=_level(mean_of_series(course.whole / gain)),
        peak_dbfs=units.peak_dbfs(sums.levels().peak) - gain_db,
        impulses_per_minute=counts if isinstance(counts, CannotTell) else float(counts.mean()),
        n_effective=in_band.n_effective,
    )


def usual_band(waveform: Waveform) -> tuple[float, float]:
    """What one recording has of 300-2700 Hz. Raises AudioFileError for silence, or for too short
    or too narrow a recording."""
    if waveform.duration_s < LEAST_DURATION_S:
        raise AudioFileError(
            f"the recording lasts {waveform.duration_s:.1f} s; at least {LEAST_DURATION_S:g} s are "
            "needed, some minutes are good"
        )
    passband = passband_of(waveform)
    if passband is None:
        raise AudioFileError("the recording is silent; there is nothing to measure")
    band = (max(passband[0], USUAL_BAND_HZ[0]), min(passband[1], USUAL_BAND_HZ[1]))
    if band[1] - band[0] < MIN_BAND_HZ:
        raise AudioFileError(
            f"the recording reaches from {passband[0]:.0f} to {passband[1]:.0f} Hz only; name a "
            "band"
        )
    return band


def _floor(floors: FloatArray | CannotTell, factor: float) -> Level | CannotTell:
    if isinstance(floors, CannotTell):
        return floors
    if floors.size < LEAST_VALUES:
        return CannotTell(f"{LEAST_VALUES * LONG_STRETCH_S:g} s are needed for that")
    return _level(mean_of_series(floors * factor))


def _level(one: SeriesMean) -> Level:
    """Source of the interval: `statistics.series`, here against a power without error."""
    ratio = ratio_of_means(EXACTLY_ONE, one)
    if ratio is None or not one.is_enough:
        return Level(
            units.dbfs_from_power(one.mean),
            CannotTell("the level wanders so slowly that there are too few independent stretches"),
        )
    low, high = (units.db_from_ratio(float(np.exp(end))) for end in (ratio.low, ratio.high))
    at = units.dbfs_from_power(1.0)
    return Level(units.dbfs_from_power(one.mean), (at + low, at + high))
