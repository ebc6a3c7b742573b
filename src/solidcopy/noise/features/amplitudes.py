"""How the envelope of the noise is distributed: Gaussian, impulsive or steadier than both."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.noise.features.figure import (
    CannotTell,
    FloatArray,
    Reading,
    dbfs_figure,
    jackknife,
)
from solidcopy.noise.features.floor import KEPT_SHARE, lowest_mean_error

HISTOGRAM_STEP_DB = 0.1
HISTOGRAM_LOWEST_DB = -240.0
N_HISTOGRAM = 2600
"""Up to 20 dB over full scale."""
N_BLOCKS = 32
"""Stretches of time that are left out one at a time to judge the errors."""
MIN_INDEPENDENT = 500.0
EXCEEDANCES = (0.99, 0.9, 0.7, 0.5, 0.3, 0.1, 0.03, 0.01, 1e-3, 1e-4, 1e-5, 1e-6)
"""Shares of time whose levels are given, as far as the recording's length allows."""
MIN_PASSES = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class ExceededLevels:
    """Amplitude probability distribution: the level that the envelope passes for a share of time.

    A level is that of a sine whose envelope stands there: 0 dBFS touches full scale.
    """

    p_exceeded: FloatArray
    """(n,) descending."""
    levels_dbfs: FloatArray
    """(n,)."""
    standard_errors_db: FloatArray
    """(n,) as if values further apart than 1 / bandwidth were independent."""


@dataclass(frozen=True, slots=True)
class Amplitudes:
    """Of everything in the passband but steady lines."""

    band_hz: tuple[float, float]
    """Between the points 6 dB down."""
    voltage_deviation_db: Reading
    """Root mean square over mean of the envelope; Gaussian noise: 1.049 dB (FACTS C3)."""
    excess_kurtosis: Reading
    """Of the real samples; Gaussian noise: 0, a sine: -1.5."""
    crest_db: float
    """Highest envelope over its root mean square; it grows with the length of a recording."""
    gaussian_crest_db: float
    """Median of what Gaussian noise of this length and bandwidth shows."""
    exceeded: ExceededLevels | CannotTell
    level_dbfs: Reading
    """Mean level in the band."""
    quiet_level_dbfs: Reading
    """Level of Gaussian noise whose weakest fifth of moments is as strong as that found, second
    by second (the idea of SM.1753's 80 % method): the noise between the impulses."""


@dataclass(frozen=True, slots=True, eq=False)
class AmplitudeSums:
    """What is collected of a squared envelope, stretch by stretch."""

    moments: FloatArray
    """(n_blocks, 4) sums of 1, envelope, its square and its fourth power."""
    histogram: FloatArray
    """(N_HISTOGRAM,) numbers of values by level."""
    highest: float
    """Highest squared envelope."""
    quiet_powers: FloatArray
    """(n_spans,) mean of the squared envelope's weakest fifth, made unbiased."""


def collect(powers: FloatArray, blocks: np.ndarray, *, n_span: int) -> AmplitudeSums:
    """Sums over one stretch.

    Args:
        powers: (n,) squared envelope.
        blocks: (n,) number of the block of time, below N_BLOCKS, that each belongs to.
        n_span: the weakest fifth is taken of about so many values at a time.
    """
    envelope = np.sqrt(powers)
    columns = (np.ones(powers.size), envelope, powers, np.square(powers))
    sums = [np.bincount(blocks, column, minlength=N_BLOCKS) for column in columns]
    moments = np.stack([part.astype(np.float64) for part in sums], axis=1)
    levels = units.dbfs_from_powers(np.maximum(powers, 1e-24) * units.FULL_SCALE_SINE_POWER)
    place = ((levels - HISTOGRAM_LOWEST_DB) / HISTOGRAM_STEP_DB).astype(np.int64)
    place = np.clip(place, 0, N_HISTOGRAM - 1)
    histogram = np.bincount(place, minlength=N_HISTOGRAM).astype(np.float64)
    return AmplitudeSums(
        moments, histogram, float(powers.max(initial=0.0)), quiet_powers(powers, n_span)
    )


def quiet_powers(powers: FloatArray, n_span: int) -> FloatArray:
    """Mean of the weakest fifth of each span over what it is in Gaussian noise, (n_spans,).

    Source: derived here. Squared envelopes of Gaussian noise are exponential, whose lowest share
        s has the mean (s + (1 - s) ln(1 - s)) / s.
    """
    n_spans = max(1, round(powers.size / n_span))
    share = KEPT_SHARE
    lowest = (share + (1.0 - share) * math.log1p(-share)) / share
    found = []
    for part in np.array_split(powers, n_spans):
        n_kept = max(1, round(share * part.size))
        found.append(float(np.partition(part, n_kept - 1)[:n_kept].mean()) / lowest)
    return np.array(found)


def summarise_amplitudes(
    parts: list[AmplitudeSums], *, band_hz: tuple[float, float], n_independent: float
) -> Amplitudes:
    """Figures of a whole recording.

    Args:
        n_independent: independent values of the envelope, bandwidth times time.
    """
    moments = np.sum([part.moments for part in parts], axis=0)
    moments = moments[moments[:, 0] > 0.0]
    highest = max(part.highest for part in parts)
    n_values, _, squares, _ = moments.sum(axis=0)
    mean_square = squares / n_values
    deviation: Reading
    kurtosis: Reading
    deviation = kurtosis = CannotTell(f"needs {MIN_INDEPENDENT:g} independent values or more")
    exceeded: ExceededLevels | CannotTell = CannotTell(deviation.reason)
    if n_independent >= MIN_INDEPENDENT and moments.shape[0] >= 8 and mean_square > 0.0:
        deviation = jackknife(moments, _voltage_deviation_db)
        kurtosis = jackknife(moments, _excess_kurtosis)
        exceeded = _exceeded(np.sum([part.histogram for part in parts], axis=0), n_independent)
    # The highest of n exponential values lies below u with chance (1 - exp(-u))^n.
    median = -math.log(-math.expm1(-math.log(2.0) / max(n_independent, 1.0)))
    return Amplitudes(
        band_hz=band_hz,
        voltage_deviation_db=deviation,
        excess_kurtosis=kurtosis,
        crest_db=units.db_from_ratio(highest / mean_square) if mean_square > 0.0 else 0.0,
        gaussian_crest_db=units.db_from_ratio(median),
        exceeded=exceeded,
        level_dbfs=_level(moments[:, [0, 2]], exceeded),
        quiet_level_dbfs=_quiet_level(parts, n_independent),
    )


def _level(moments: FloatArray, exceeded: ExceededLevels | CannotTell) -> Reading:
    """Half the mean squared envelope."""
    if isinstance(exceeded, CannotTell):
        return exceeded
    powers = moments[:, 1] / moments[:, 0] / 2.0
    relative = float(powers.std(ddof=1) / powers.mean()) / math.sqrt(powers.size)
    return dbfs_figure(float(moments[:, 1].sum() / moments[:, 0].sum()) / 2.0, relative)


def _quiet_level(parts: list[AmplitudeSums], n_independent: float) -> Reading:
    """Mean over the spans; its error is that of Gaussian noise, or what the spans show."""
    quiet = np.concatenate([part.quiet_powers for part in parts])
    mean = float(quiet.mean())
    if n_independent < MIN_INDEPENDENT or mean <= 0.0:
        return CannotTell(f"needs {MIN_INDEPENDENT:g} independent values or more")
    relative = lowest_mean_error(n_independent, KEPT_SHARE)
    if quiet.size > 4:
        relative = max(relative, float(quiet.std(ddof=1)) / mean / math.sqrt(quiet.size))
    return dbfs_figure(mean / 2.0, relative)


def _voltage_deviation_db(sums: FloatArray) -> float:
    n_values, means, squares, _ = sums
    return units.db_from_ratio(float(n_values * squares / means**2))


def _excess_kurtosis(sums: FloatArray) -> float:
    """Of the real samples, whose fourth moment is 3/8 of the envelope's and second one half.

    Source: derived here; it holds where the phase turns often, so in any band above 0 Hz.
    """
    n_values, _, squares, fourths = sums
    return float(1.5 * n_values * fourths / squares**2 - 3.0)


def _exceeded(histogram: FloatArray, n_independent: float) -> ExceededLevels:
    above = np.cumsum(histogram[::-1])[::-1] / histogram.sum()
    edges_db = HISTOGRAM_LOWEST_DB + HISTOGRAM_STEP_DB * np.arange(above.size)
    p = np.array([p for p in EXCEEDANCES if p * n_independent >= MIN_PASSES])
    levels_db = np.interp(-p, -above, edges_db)
    errors = np.sqrt(p * (1.0 - p) / n_independent)
    low_db = np.interp(-np.minimum(p + errors, 1.0), -above, edges_db)
    high_db = np.interp(-np.maximum(p - errors, 0.0), -above, edges_db)
    return ExceededLevels(p, levels_db, (high_db - low_db) / 2.0)
