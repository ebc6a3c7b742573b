"""Rhythm of the noise: lines in the spectrum of its envelope, and what they belong to."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray
from solidcopy.noise.features.lines import Line, find_lines, find_surroundings
from solidcopy.noise.features.spectrum import Spectrum, measure_spectrum
from solidcopy.noise.features.trains import Train

SERIES_HZ = 2500.0
"""The envelope's power is averaged into so many values a second, as far as its bandwidth allows."""
CAP_RATIO = 30.0
"""Power over the local level at which it is cut: one crash must not hide a rhythm."""
LOWEST_HZ = 0.5
MAINS_TOLERANCE = 0.006
"""A grid's frequency and a sound card's clock are off by less, together."""
MAX_MULTIPLE = 40


@dataclass(frozen=True, slots=True)
class RhythmLine:
    """One line of the envelope's spectrum."""

    rate_hz: Figure
    depth: Figure
    """Amplitude of this ripple of the power over the mean power (1: fully modulated, if alone)."""


@dataclass(frozen=True, slots=True)
class RhythmFamily:
    """A rate and those of its multiples that are seen."""

    rate_hz: Figure
    """Of the fundamental, by all its multiples."""
    multiples: tuple[int, ...]
    depth: Figure
    """Root of the sum of all its squared depths."""


@dataclass(frozen=True, slots=True)
class MainsLine:
    """The ripple at one rate of the mains, whether seen or not."""

    nominal_rate_hz: float
    line: RhythmLine | None


@dataclass(frozen=True, slots=True)
class MainsRhythm:
    """Whether the envelope follows the mains."""

    mains_hz: Literal[50, 60] | None
    """None: it follows neither."""
    multiple: Literal[1, 2] | None
    """2: only twice a cycle; 1: once a cycle as well, one polarity being the stronger."""
    frequency_hz: Figure | None
    """Of the mains, as the recording's clock sees it."""
    at_rates: tuple[MainsLine, ...]
    """At 50, 100, 60 and 120 Hz."""


@dataclass(frozen=True, slots=True, eq=False)
class Rhythm:
    """What repeats itself."""

    lines: tuple[RhythmLine, ...] | CannotTell
    """Of the envelope's spectrum, ascending; one recording of Gaussian noise in a hundred has
    any."""
    families: tuple[RhythmFamily, ...]
    """Lines put together, the deepest first."""
    mains: MainsRhythm | CannotTell
    trains: tuple[Train, ...] | CannotTell
    """Periodic impulses slower than about 12 a second."""
    highest_rate_hz: float
    """Nothing faster can be seen in this passband."""
    spectrum: Spectrum | None
    """Of the envelope's power over the local level."""


def series_of(ratios: FloatArray, n_averaged: int) -> FloatArray:
    """Capped power ratios averaged over stretches of `n_averaged`; the rest at the end goes."""
    n_whole = ratios.size // n_averaged
    capped = np.minimum(ratios[: n_whole * n_averaged], CAP_RATIO)
    return np.asarray(capped.reshape(n_whole, n_averaged).mean(axis=1))


def measure_rhythm(
    series: FloatArray, *, series_rate_hz: float, trains: tuple[Train, ...] | CannotTell
) -> Rhythm:
    """Lines of the envelope's spectrum and their families.

    Args:
        series: (n,) power over the local level, evenly sampled.
        trains: what the times of impulses show.
    """
    highest_hz = 0.48 * series_rate_hz
    duration_s = series.size / series_rate_hz
    mean = float(series.mean()) if series.size else 0.0
    if duration_s < 4.0 or mean <= 0.0:
        reason = CannotTell("a rhythm needs 4 s or more")
        return Rhythm(reason, (), reason, trains, highest_hz, None)
    segment_s = min(max(duration_s / 10.0, 1.0), 8.0)
    spectrum = measure_spectrum(
        series, sample_rate_hz=series_rate_hz, segment_s=segment_s, mean=mean
    )
    band_hz = (max(LOWEST_HZ, 4.0 * spectrum.bin_hz), highest_hz)
    around = find_surroundings(spectrum, band_hz)
    found = find_lines(spectrum, around, band_hz)
    lines = tuple(_rhythm_line(line, mean) for line in found)
    mains: MainsRhythm | CannotTell = CannotTell(
        "the passband is too narrow to tell ripples of 100 and 120 Hz"
    )
    if highest_hz > 125.0:
        mains = find_mains(lines, spectrum.bin_hz)
    return Rhythm(lines, find_families(lines, spectrum.bin_hz), mains, trains, highest_hz, spectrum)


def _rhythm_line(line: Line, mean: float) -> RhythmLine:
    depth = math.sqrt(2.0 * units.power_from_dbfs(line.level_dbfs.value)) / mean
    # d(amplitude) / amplitude is half d(power) / power.
    relative = line.level_dbfs.standard_error * math.log(10.0) / 20.0
    return RhythmLine(line.frequency_hz, Figure(depth, depth * relative))


def find_families(lines: tuple[RhythmLine, ...], bin_hz: float) -> tuple[RhythmFamily, ...]:
    """Give each line to the lowest rate that it is a multiple of.

    A rate counts as a fundamental only where it is seen itself.
    """
    left = list(lines)
    families = []
    while left:
        lowest = left[0]
        members = [(1, lowest)]
        rate = lowest.rate_hz
        for line in left[1:]:
            multiple = round(line.rate_hz.value / rate.value)
            error_hz = math.hypot(multiple * rate.standard_error, line.rate_hz.standard_error)
            is_sharp = multiple * rate.standard_error < 0.1 * rate.value
            away_hz = abs(line.rate_hz.value - multiple * rate.value)
            if 1 < multiple <= MAX_MULTIPLE and is_sharp and away_hz < 4.0 * error_hz + bin_hz / 4:
                members.append((multiple, line))
                rate = _common_rate(members)
        families.append(_family(members))
        taken = [line for _, line in members]
        left = [line for line in left if line not in taken]
    return tuple(sorted(families, key=lambda family: -family.depth.value))


def _common_rate(members: list[tuple[int, RhythmLine]]) -> Figure:
    """Mean of rates over multiples, weighted by their errors."""
    numbers = np.array([number for number, _ in members])
    rates = np.array([line.rate_hz.value for _, line in members]) / numbers
    errors = np.array([max(line.rate_hz.standard_error, 1e-9) for _, line in members]) / numbers
    weights = 1.0 / np.square(errors)
    total = float(weights.sum())
    return Figure(float(weights @ rates) / total, 1.0 / math.sqrt(total))


def _family(members: list[tuple[int, RhythmLine]]) -> RhythmFamily:
    depths = np.array([line.depth.value for _, line in members])
    errors = np.array([line.depth.standard_error for _, line in members])
    depth = math.sqrt(float(np.square(depths).sum()))
    error = math.sqrt(float(np.square(depths * errors).sum())) / depth
    return RhythmFamily(
        _common_rate(members), tuple(number for number, _ in members), Figure(depth, error)
    )


def find_mains(lines: tuple[RhythmLine, ...], bin_hz: float) -> MainsRhythm:
    """Whether lines lie at once or twice 50 or 60 Hz, and which pair is the stronger."""
    at_rates = tuple(MainsLine(rate, _near(lines, rate, bin_hz)) for rate in (50, 100, 60, 120))
    strengths = []
    for once, twice in (at_rates[:2], at_rates[2:]):
        depths = [part.line.depth.value if part.line else 0.0 for part in (once, twice)]
        strengths.append(math.hypot(*depths))
    if max(strengths) == 0.0:
        return MainsRhythm(None, None, None, at_rates)
    is_60 = strengths[1] > strengths[0]
    once, twice = at_rates[2:] if is_60 else at_rates[:2]
    members = [(n, part.line) for n, part in ((1, once), (2, twice)) if part.line is not None]
    return MainsRhythm(
        mains_hz=60 if is_60 else 50,
        multiple=1 if once.line is not None else 2,
        frequency_hz=_common_rate(members),
        at_rates=at_rates,
    )


def _near(lines: tuple[RhythmLine, ...], rate_hz: float, bin_hz: float) -> RhythmLine | None:
    """The deepest line that may be this rate."""
    reach_hz = MAINS_TOLERANCE * rate_hz + bin_hz / 4.0
    close = [line for line in lines if abs(line.rate_hz.value - rate_hz) < reach_hz]
    return max(close, key=lambda line: line.depth.value, default=None)
