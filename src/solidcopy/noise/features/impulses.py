"""Impulses: moments at which the envelope stands out of what Gaussian noise would do."""

import itertools
import math
from dataclasses import dataclass

import numpy as np
import scipy.ndimage
import scipy.special
import scipy.stats
from numpy.typing import NDArray

from solidcopy.noise.features.figure import Figure, FloatArray
from solidcopy.noise.features.floor import runs_of

FALSE_IMPULSES_PER_MINUTE = 0.1
"""Expected number of impulses found in a minute of Gaussian noise."""
WATCHED_S = (0.0, 0.0015, 0.005)
"""The envelope's power is watched as it is and averaged over these times, for longer bursts."""
LOW_SHARE = 0.25
"""The local level is judged by this quantile, which impulses hardly move."""
LEVEL_S = 0.5
"""It is taken anew so often at the most."""
MIN_LEVEL_VALUES = 1000.0
SILENT = 1e-22
"""A local level below is that of a gap in the recording."""
MERGED_S = 0.002
"""What comes closer together is one impulse."""
PAD_S = 0.001
EDGE_RATIO = 4.0
"""An impulse lasts while its power is so many times the local level."""
LONGEST_S = 0.2
"""What lasts longer is a signal, and no impulse."""


@dataclass(frozen=True, slots=True, eq=False)
class Impulses:
    """What was found, in order of time."""

    watched_s: tuple[float, float]
    """From when to when they were looked for: all but half a second at both ends."""
    times_s: FloatArray
    """(n,) middle of each impulse's energy."""
    lengths_s: FloatArray
    """(n,) between the first and last moment 6 dB over the local level."""
    peaks_dbfs: FloatArray
    """(n,) of the envelope; 0 dBFS is that of a sine touching full scale."""
    peaks_over_floor_db: FloatArray
    """(n,) over the mean power of the noise around."""
    energies: FloatArray
    """(n,) power times seconds, noise taken off."""
    rate_per_minute: Figure
    """Of impulses found; its error is that of a count that comes at random."""
    energy_share: Figure
    """Of all that is in the passband, steady lines left out."""
    false_alarms_per_minute: float
    """To be expected of Gaussian noise."""
    threshold_over_floor_db: float
    """An impulse must pass this within a moment of the passband's own length."""
    n_long: int
    """Of longer signals that stood out as well and are left out."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Ratios to the local level, for each of the watched times."""

    n_averaged: tuple[int, ...]
    """Envelope samples averaged."""
    ratios: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Impulses of one stretch; times in seconds from its beginning, powers as of the envelope."""

    times_s: FloatArray
    lengths_s: FloatArray
    peaks: FloatArray
    levels: FloatArray
    """(n,) local mean power."""
    energies: FloatArray


def upcrossing_ratio(rms_spread_hz: float, crossings_per_s: float) -> float:
    """Squared envelope over its mean that Gaussian noise passes so often.

    Args:
        rms_spread_hz: standard deviation of the power spectrum about its centre.
    Source: S. O. Rice (from memory): a Rayleigh envelope rises through r times its root mean
        square 2 sqrt(pi) s r exp(-r^2) times a second, s the spread of the spectrum; for a flat
        band B that is sqrt(pi / 3) B r exp(-r^2).
    """
    ratio = 10.0
    for _ in range(30):
        at_most = 2.0 * math.sqrt(math.pi) * rms_spread_hz * math.sqrt(ratio) / crossings_per_s
        ratio = max(math.log(max(at_most, math.e)), 1.0)
    return ratio


def find_thresholds(
    *, envelope_rate_hz: float, effective_hz: float, rms_spread_hz: float
) -> Thresholds:
    """Thresholds that share the false alarms evenly.

    Args:
        effective_hz: bandwidth of the rectangle of equal fluctuation.
        rms_spread_hz: as of `upcrossing_ratio`.
    Source: derived here. An average over a time t holds about k = 1 + effective_hz * t
        independent powers and follows a gamma distribution of that shape; it is renewed
        effective_hz times a second at most.
    """
    n_averaged, ratios = [], []
    per_s = FALSE_IMPULSES_PER_MINUTE / 60.0 / len(WATCHED_S)
    for watched_s in WATCHED_S:
        n_samples = max(1, round(watched_s * envelope_rate_hz))
        shape = n_samples / envelope_rate_hz * effective_hz
        if n_samples == 1:
            ratio = upcrossing_ratio(rms_spread_hz, per_s)
        elif shape < 2.0:
            continue
        else:
            tail = min(per_s / effective_hz, 0.01)
            ratio = float(scipy.stats.gamma.isf(tail, shape)) / shape
        n_averaged.append(n_samples)
        ratios.append(ratio)
    return Thresholds(tuple(n_averaged), tuple(ratios))


def local_levels(powers: FloatArray, envelope_rate_hz: float, effective_hz: float) -> FloatArray:
    """Mean power of the noise around each envelope sample, (n,), impulses disregarded.

    Args:
        effective_hz: independent values a second; a level takes about a thousand.
    Source: derived here: powers of Gaussian noise are exponential, so the quantile q of them
        is -ln(1 - q) times their mean.
    """
    level_s = max(LEVEL_S, MIN_LEVEL_VALUES / effective_hz)
    n_blocks = max(1, round(powers.size / (level_s * envelope_rate_hz)))
    edges = np.linspace(0, powers.size, n_blocks + 1).astype(np.int64)
    quantiles = np.empty(n_blocks)
    for place, (first, last) in enumerate(itertools.pairwise(edges)):
        rank = int(LOW_SHARE * (last - first))
        quantiles[place] = np.partition(powers[first:last], rank)[rank]
    smooth = scipy.ndimage.median_filter(quantiles, 3, mode="nearest")
    middles = (edges[1:] + edges[:-1]) / 2.0
    return np.interp(np.arange(powers.size), middles, smooth) / -math.log1p(-LOW_SHARE)


def ratios_of(powers: FloatArray, levels: FloatArray) -> FloatArray:
    """Powers over the local levels; 0 where there is silence."""
    return np.where(levels > SILENT, powers / np.maximum(levels, SILENT), 0.0)


def find_impulses(
    powers: FloatArray, levels: FloatArray, thresholds: Thresholds, envelope_rate_hz: float
) -> Found:
    """Impulses of one stretch of squared envelope.

    Args:
        powers, levels: (n,) squared envelope and the local level of each sample.
    """
    ratios = ratios_of(powers, levels)
    is_over = np.zeros(powers.size, dtype=bool)
    for n_averaged, threshold in zip(thresholds.n_averaged, thresholds.ratios, strict=True):
        # At both ends of a stretch an average holds silence, so it finds less there, not more.
        averaged = ratios
        if n_averaged > 1:
            averaged = scipy.ndimage.uniform_filter1d(ratios, n_averaged, mode="constant")
        is_over |= averaged > threshold
    runs = _merged(runs_of(is_over), max(1, round(MERGED_S * envelope_rate_hz)))
    if runs.shape[0] == 0:
        return Found(*(np.zeros(0) for _ in range(5)))
    pad = max(1, round(PAD_S * envelope_rate_hz))
    first = np.maximum(runs[:, 0] - pad, 0)
    last = np.minimum(runs[:, 1] + pad, powers.size)
    return _describe(powers, levels, (first, last), envelope_rate_hz)


def _merged(runs: NDArray[np.int64], gap: int) -> NDArray[np.int64]:
    """Runs with gaps of fewer than `gap` samples closed, (n_runs, 2)."""
    if runs.shape[0] == 0:
        return runs
    is_first = np.concatenate([[True], runs[1:, 0] - runs[:-1, 1] >= gap])
    is_last = np.concatenate([is_first[1:], [True]])
    return np.stack([runs[is_first, 0], runs[is_last, 1]], axis=1)


def _describe(
    powers: FloatArray,
    levels: FloatArray,
    extents: tuple[NDArray[np.int64], NDArray[np.int64]],
    envelope_rate_hz: float,
) -> Found:
    """Figures of each impulse from the samples between its ends."""
    first, last = extents
    counts = last - first
    owner = np.repeat(np.arange(first.size), counts)
    place = np.arange(owner.size) - np.repeat(np.cumsum(counts) - counts, counts) + first[owner]
    level = levels[first]
    here = powers[place]
    excess = np.maximum(here - level[owner], 0.0)
    total = np.bincount(owner, weights=excess)
    middle = np.bincount(owner, weights=excess * place) / np.maximum(total, 1e-300)
    starts = np.cumsum(counts) - counts
    is_on = here > EDGE_RATIO * level[owner]
    begin = np.minimum.reduceat(np.where(is_on, place, np.iinfo(np.int64).max), starts)
    end = np.maximum.reduceat(np.where(is_on, place, -1), starts)
    return Found(
        times_s=middle / envelope_rate_hz,
        lengths_s=np.maximum(end - begin + 1, 1) / envelope_rate_hz,
        peaks=np.maximum.reduceat(here, starts),
        levels=level,
        energies=np.bincount(owner, weights=here - level[owner]) / envelope_rate_hz / 2.0,
    )
