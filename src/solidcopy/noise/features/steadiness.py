"""How steady the level is from second to second, minute to minute and hour to hour."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.stats

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray, Reading, db_error
from solidcopy.noise.features.lines import Line, Surroundings
from solidcopy.noise.features.spectrum import Spectrum
from solidcopy.signals.power import AnySamples

SPANS_S = (1.0, 60.0, 3600.0)
MIN_SPANS = 5
P_FALSE_STEP = 0.01
"""Chance that a steady recording shows a step."""
MIN_STEP_SPANS = 3
"""A level must hold for so many seconds on both sides of a step."""
MAX_STEPS = 20


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Mean levels of stretches of equal length."""

    span_s: float
    levels_dbfs: FloatArray
    """(n_spans,) in order; what is left over at the end is not counted."""
    spread_db: Reading
    """Standard deviation of the levels."""
    gaussian_spread_db: float
    """What steady Gaussian noise of this spectrum, with its lines, would show."""
    is_steady: bool | None
    """Whether the spread is no more than that (false alarm 1 %); None: cannot tell."""


@dataclass(frozen=True, slots=True)
class Step:
    """A lasting change of level."""

    at_s: float
    change_db: Figure


@dataclass(frozen=True, slots=True)
class Steadiness:
    """The level over time."""

    by_second: Levels
    by_minute: Levels
    by_hour: Levels
    steps: tuple[Step, ...] | CannotTell
    """Of the levels by second, in order of time."""


def span_powers(
    samples: AnySamples, *, sample_rate_hz: float, span_s: float, mean: float = 0.0
) -> FloatArray:
    """Mean squares of consecutive stretches, (n_spans,); the rest at the end is left out.

    Args:
        mean: taken off first.
    """
    n_span = max(1, round(span_s * sample_rate_hz))
    n_spans = samples.size // n_span
    powers = np.empty(n_spans)
    for place in range(n_spans):
        part = samples[place * n_span : (place + 1) * n_span]
        powers[place] = np.square(part.astype(np.float64) - mean).mean()
    return powers


def gaussian_relative_error(
    spectrum: Spectrum, around: Surroundings, lines: tuple[Line, ...], span_s: float
) -> float:
    """Relative standard deviation of the power of a stretch of Gaussian noise with steady lines.

    Source: derived here. Noise of one-sided density S: variance of its mean square over T is
        the integral of S^2, over T; a line of power L on it beats with it and adds 2 L S / T.
    """
    variance = float(np.square(around.densities).sum()) * spectrum.bin_hz / span_s
    power = float(spectrum.densities.sum()) * spectrum.bin_hz
    for line in lines:
        place = min(round(line.frequency_hz.value / spectrum.bin_hz), around.densities.size - 1)
        strength = units.power_from_dbfs(line.level_dbfs.value)
        variance += 2.0 * strength * float(around.densities[place]) / span_s
    return math.sqrt(variance) / power if power > 0.0 else 0.0


def measure_steadiness(second_powers: FloatArray, relative_error: float) -> Steadiness:
    """Spread and steps of the level.

    Args:
        second_powers: (n_seconds,) mean squares.
        relative_error: that of one of them if the noise were Gaussian and steady.
    """
    by_span = []
    for span_s in SPANS_S:
        n_together = round(span_s / SPANS_S[0])
        n_spans = second_powers.size // n_together
        powers = second_powers[: n_spans * n_together].reshape(n_spans, n_together).mean(axis=1)
        by_span.append(_levels(powers, span_s, relative_error / math.sqrt(n_together)))
    return Steadiness(
        by_second=by_span[0],
        by_minute=by_span[1],
        by_hour=by_span[2],
        steps=find_steps(second_powers, relative_error),
    )


def _levels(powers: FloatArray, span_s: float, relative_error: float) -> Levels:
    levels_dbfs = units.dbfs_from_powers(powers)
    gaussian_db = db_error(relative_error)
    n_free = powers.size - 1
    if powers.size < MIN_SPANS or not np.isfinite(levels_dbfs).all():
        reason = CannotTell(f"a spread needs {MIN_SPANS} stretches of {span_s:g} s, none silent")
        return Levels(span_s, levels_dbfs, reason, gaussian_db, None)
    spread_db = float(levels_dbfs.std(ddof=1))
    limit = float(scipy.stats.chi2.isf(0.01, n_free)) / n_free
    return Levels(
        span_s=span_s,
        levels_dbfs=levels_dbfs,
        spread_db=Figure(spread_db, spread_db / math.sqrt(2.0 * n_free)),
        gaussian_spread_db=gaussian_db,
        is_steady=bool(spread_db**2 <= limit * gaussian_db**2),
    )


def find_steps(second_powers: FloatArray, relative_error: float) -> tuple[Step, ...] | CannotTell:
    """Part the levels again and again at the most significant change of their mean.

    Source: binary segmentation (from memory); the scatter is the greater of what Gaussian noise
        has and what neighbouring seconds show, so fading is not a sequence of steps.
    """
    levels_db = units.dbfs_from_powers(second_powers)
    if levels_db.size < 4 * MIN_STEP_SPANS or not np.isfinite(levels_db).all():
        return CannotTell("steps need 12 s or more without silence")
    moves = np.diff(levels_db)
    seen = float(np.median(np.abs(moves))) / 0.6745 / math.sqrt(2.0)
    scatter_db = max(seen, db_error(relative_error))
    threshold = float(scipy.stats.t.isf(P_FALSE_STEP / 2.0 / levels_db.size, levels_db.size / 2.0))
    cuts: list[int] = []
    open_runs = [(0, int(levels_db.size))]
    while open_runs and len(cuts) < MAX_STEPS:
        first, last = open_runs.pop()
        cut, strength = _best_cut(levels_db[first:last])
        if strength > threshold * scatter_db:
            cuts.append(first + cut)
            open_runs += [(first, first + cut), (first + cut, last)]
    bounds = [0, *sorted(cuts), levels_db.size]
    steps = []
    for before, cut, after in zip(bounds[:-2], bounds[1:-1], bounds[2:], strict=True):
        change_db = float(levels_db[cut:after].mean() - levels_db[before:cut].mean())
        error_db = scatter_db * math.sqrt(1.0 / (cut - before) + 1.0 / (after - cut))
        steps.append(Step(float(cut), Figure(change_db, error_db)))
    return tuple(steps)


def _best_cut(levels_db: FloatArray) -> tuple[int, float]:
    """Where two means differ most, and by how many times the error of unit scatter."""
    n_levels = levels_db.size
    cuts = np.arange(MIN_STEP_SPANS, n_levels - MIN_STEP_SPANS + 1)
    if cuts.size == 0:
        return 0, 0.0
    before = np.cumsum(levels_db)[cuts - 1]
    total = float(levels_db.sum())
    difference = np.abs(before / cuts - (total - before) / (n_levels - cuts))
    strength = difference * np.sqrt(cuts * (n_levels - cuts) / n_levels)
    best = int(strength.argmax())
    return int(cuts[best]), float(strength[best])
