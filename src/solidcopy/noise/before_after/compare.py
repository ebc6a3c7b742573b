"""Two courses side by side: differences of level with their intervals."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.errors import AudioFileError
from solidcopy.noise.before_after.course import (
    LONG_STRETCH_S,
    Course,
    course_of,
    parts_of_band,
    passband_of,
)
from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.signals.waveform import Waveform
from solidcopy.statistics.series import (
    LEAST_VALUES,
    RatioOfMeans,
    SeriesMean,
    mean_of_series,
    ratio_of_means,
)

USUAL_BAND_HZ = (300.0, 2700.0)
N_PARTS = 8
"""Of the band, each with a difference of its own."""
LEAST_DURATION_S = 20.0
LEAST_COMMON = 0.75
"""Of two passbands, what both have over what either has; less is another filter."""
MIN_BAND_HZ = 50.0


@dataclass(frozen=True, slots=True)
class Change:
    """One quantity before and after; levels in dBFS, impulses a minute."""

    name: str
    before: float
    after: float
    difference: float
    """After less before: dB for a level."""
    interval: tuple[float, float] | CannotTell
    """95 %."""
    n_effective: tuple[float, float]
    """Independent stretches that each recording is worth."""
    unit: str = "dB"

    @property
    def is_shown(self) -> bool:
        """Whether the interval leaves no change out."""
        return not isinstance(self.interval, CannotTell) and not (
            self.interval[0] <= 0.0 <= self.interval[1]
        )


@dataclass(frozen=True, slots=True, eq=False)
class BeforeAfter:
    """All that has changed, or not, between two recordings."""

    band_hz: tuple[float, float]
    passbands_hz: tuple[tuple[float, float], tuple[float, float]]
    durations_s: tuple[float, float]
    gain_change_db: float
    """Of the receiver or recorder from the first to the second; taken off every difference."""
    in_band: Change
    whole: Change
    floor: Change | CannotTell
    parts: tuple[Change, ...]
    """Of equal parts of the band."""
    impulse_rate: Change | CannotTell
    impulse_level: Change | CannotTell


def compare_recordings(
    before: Waveform,
    after: Waveform,
    *,
    band_hz: tuple[float, float] | None = None,
    gain_change_db: float = 0.0,
) -> BeforeAfter:
    """Differences of two recordings that were taken the same way.

    Args:
        before, after: one channel each, of one sample rate.
        band_hz: of the answer; what both passbands share of 300-2700 Hz if left out.
        gain_change_db: how much louder the same noise is in the second, if the gain was changed.
    Raises: AudioFileError if they were not taken alike, or are too short.
    Source: levels are mean powers (rms); the floor is that of noise/features; intervals are those
        of statistics/series.
    """
    _refuse_unlike(before, after)
    passbands = _passbands(before, after)
    band = _band(band_hz, passbands, before.sample_rate_hz)
    bands_hz = [band, *parts_of_band(band, N_PARTS)]
    courses = [course_of(one, bands_hz) for one in (before, after)]
    names = [f"{low:.0f}-{high:.0f} Hz" for low, high in bands_hz]
    gain = units.ratio_from_db(gain_change_db)
    within = [
        _level_change(names[i], (courses[0].bands[i], courses[1].bands[i] / gain))
        for i in range(len(bands_hz))
    ]
    return BeforeAfter(
        band_hz=band,
        passbands_hz=passbands,
        durations_s=(before.duration_s, after.duration_s),
        gain_change_db=gain_change_db,
        in_band=within[0],
        whole=_level_change("all frequencies", (courses[0].whole, courses[1].whole / gain)),
        floor=_floor_change(courses, names[0], gain),
        parts=tuple(within[1:]),
        impulse_rate=_rate_change(courses),
        impulse_level=_impulse_level(courses, gain),
    )


def _refuse_unlike(before: Waveform, after: Waveform) -> None:
    if before.sample_rate_hz != after.sample_rate_hz:
        raise AudioFileError(
            f"they cannot be compared: one has {before.sample_rate_hz} samples per second, the "
            f"other {after.sample_rate_hz}; record both the same way"
        )
    for name, one in (("first", before), ("second", after)):
        if one.duration_s < LEAST_DURATION_S:
            raise AudioFileError(
                f"the {name} lasts {one.duration_s:.1f} s; at least {LEAST_DURATION_S:g} s are "
                "needed, some minutes are good"
            )


def _passbands(
    before: Waveform, after: Waveform
) -> tuple[tuple[float, float], tuple[float, float]]:
    found = (passband_of(before), passband_of(after))
    if found[0] is None or found[1] is None:
        raise AudioFileError(
            f"the {'first' if found[0] is None else 'second'} is silent; there is nothing to "
            "compare"
        )
    return found[0], found[1]


def _band(
    asked_hz: tuple[float, float] | None,
    passbands_hz: tuple[tuple[float, float], tuple[float, float]],
    sample_rate_hz: int,
) -> tuple[float, float]:
    """The band of the answer. Raises AudioFileError for none, or for passbands unlike."""
    first, second = passbands_hz
    if asked_hz is not None:
        if not 0.0 <= asked_hz[0] < asked_hz[1] - MIN_BAND_HZ < sample_rate_hz / 2.0:
            raise AudioFileError(
                f"--band: give two frequencies at least {MIN_BAND_HZ:g} Hz apart and below "
                f"{sample_rate_hz / 2:g} Hz, like 300-2700"
            )
        return asked_hz[0], min(asked_hz[1], sample_rate_hz / 2.0)
    common = (max(first[0], second[0]), min(first[1], second[1]))
    either_hz = max(first[1], second[1]) - min(first[0], second[0])
    if common[1] - common[0] < LEAST_COMMON * either_hz:
        raise AudioFileError(
            f"they cannot be compared: the first reaches from {first[0]:.0f} to {first[1]:.0f} Hz, "
            f"the second from {second[0]:.0f} to {second[1]:.0f}; use the same filter, or name a "
            "band that both have with --band LOW-HIGH"
        )
    band = (max(common[0], USUAL_BAND_HZ[0]), min(common[1], USUAL_BAND_HZ[1]))
    if band[1] - band[0] < MIN_BAND_HZ:
        raise AudioFileError(
            f"both reach from {common[0]:.0f} to {common[1]:.0f} Hz only; name a band with "
            "--band LOW-HIGH"
        )
    return band


def _level_change(name: str, powers: tuple[FloatArray, FloatArray]) -> Change:
    before, after = (mean_of_series(one) for one in powers)
    ratio = ratio_of_means(before, after)
    levels = [units.dbfs_from_power(one.mean) for one in (before, after)]
    return Change(
        name,
        levels[0],
        levels[1],
        levels[1] - levels[0],
        _interval(ratio, before, after),
        (before.n_effective, after.n_effective),
    )


def _interval(
    ratio: RatioOfMeans | None, before: SeriesMean, after: SeriesMean
) -> tuple[float, float] | CannotTell:
    if ratio is None:
        return CannotTell("there is nothing in one of them")
    if not (before.is_enough and after.is_enough):
        which = "first" if before.n_effective < after.n_effective else "second"
        return CannotTell(
            f"the level of the {which} wanders so slowly that it holds too few independent "
            "stretches; record for longer, or several times by turns"
        )
    per_neper = 10.0 / math.log(10.0)
    return per_neper * ratio.low, per_neper * ratio.high


def _floor_change(courses: list[Course], name: str, gain: float) -> Change | CannotTell:
    floors = [course.floors for course in courses]
    pair = []
    for one in floors:
        if isinstance(one, CannotTell):
            return one
        pair.append(one)
    short = _too_short(pair)
    return short or _level_change(f"weakest fifth, {name}", (pair[0], pair[1] / gain))


def _too_short(pair: list[FloatArray]) -> CannotTell | None:
    if min(one.size for one in pair) >= LEAST_VALUES:
        return None
    return CannotTell(f"{LEAST_VALUES * LONG_STRETCH_S:g} s of each recording are needed for that")


def _rate_change(courses: list[Course]) -> Change | CannotTell:
    """Difference, not ratio, of impulses a minute: there may be none."""
    pair = []
    for course in courses:
        if isinstance(course.impulse_counts, CannotTell):
            return course.impulse_counts
        pair.append(course.impulse_counts)
    short = _too_short(pair)
    if short is not None:
        return short
    before, after = (mean_of_series(one) for one in pair)
    errors = [_count_error(one) for one in (before, after)]
    half = 2.365 * math.hypot(*errors)  # Student's t for the seven degrees of eight batches
    difference = after.mean - before.mean
    return Change(
        "impulses",
        before.mean,
        after.mean,
        difference,
        (difference - half, difference + half),
        (before.n_effective, after.n_effective),
        unit="a minute",
    )


def _count_error(one: SeriesMean) -> float:
    """Of impulses a minute. Counts that are all alike, or all nought, still come by chance."""
    if one.standard_error > 0.0:
        return one.standard_error
    minutes = one.n_values * LONG_STRETCH_S / 60.0
    return math.sqrt(max(one.mean * minutes, 1.0)) / minutes


def _impulse_level(courses: list[Course], gain: float) -> Change | CannotTell:
    pair = [course.impulse_powers for course in courses]
    if any(isinstance(course.impulse_counts, CannotTell) for course in courses):
        return CannotTell("impulses cannot be told in one of them")
    short = _too_short(pair)
    if short is not None:
        return short
    if min(np.count_nonzero(one > 0.0) for one in pair) < LEAST_VALUES // 2:
        return CannotTell("one of them holds too few impulses for their level to be compared")
    return _level_change("impulses, mean power", (pair[0], pair[1] / gain))
