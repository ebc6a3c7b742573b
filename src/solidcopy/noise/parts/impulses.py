"""Moments at which the whole passband rises at once: impulses, one by one.

A keyed carrier raises a few bins, an impulse all of them. So each bin is measured against its own
median over time, and the weaker bins of a frame decide.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.ndimage
import scipy.stats

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.features.floor import runs_of
from solidcopy.noise.parts.cells import N_OVERLAPS, Cells

KEPT_BINS = 0.6
"""Share of the bins of a frame that decides, the weakest ones: four keyed carriers may be in it."""
QUANTILES = (0.1, 0.4)
"""Of the rise over time, by which quiet noise is known: impulses must leave so much of the time."""
EXPECTED_FALSE = 0.01
"""Impulses expected of a recording that holds nothing but Gaussian noise."""
TAIL_SHAPE = 0.62
"""The mean of the weaker bins has a longer tail than the gamma distribution that fits its middle;
this share of the fitted shape bounds it (by simulation: tests/unit/test_noise_impulses.py)."""
WIDE_OF_MEDIAN = 1.8
"""An impulse begins and ends where the rise passes this many times the median."""

FRAMES_BESIDE = 2


@dataclass(frozen=True, slots=True, eq=False)
class Rise:
    """How far the weaker bins of each moment stand above their own medians."""

    values: FloatArray
    """(n_frames,) 1 in the median."""
    threshold: float
    """Passed by quiet Gaussian noise in one recording of 1 / EXPECTED_FALSE."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Impulses in order of time."""

    times_s: FloatArray
    """(n,) centres of energy, the strongest moments counting most."""
    lengths_s: FloatArray
    """(n,) between the frames at both ends."""
    energies: FloatArray
    """(n,) what each adds to the mean power of the recording."""
    is_inside: np.ndarray
    """(n_frames,) frames that touch an impulse."""
    labels: np.ndarray
    """(n_frames,) 1 + place of the impulse that a frame belongs to; 0: none."""
    quiet_power: float
    """Mean power of the frames without impulses."""


def measure_rise(cells: Cells, *, is_asked: np.ndarray) -> Rise:
    """Rise of every frame, and the threshold for what Gaussian noise would not do.

    Args:
        is_asked: (n_bins,) bins that count; those of a narrow signal should not.
    Source: derived here. In Gaussian noise the rise is close to a gamma distribution, whose shape
        follows from the ratio of two quantiles in the quiet part.
    """
    asked = cells.powers[:, is_asked]
    medians = np.median(asked, axis=0)
    relative = asked / np.maximum(medians, np.float32(1e-30))
    n_kept = max(1, math.ceil(KEPT_BINS * relative.shape[1]))
    if n_kept < relative.shape[1]:
        relative.partition(n_kept - 1, axis=1)
    values = relative[:, :n_kept].mean(axis=1, dtype=np.float64)
    values /= max(float(np.median(values)), 1e-30)
    shapes = np.geomspace(0.3, 300.0, 200)
    ratios = scipy.stats.gamma.ppf(QUANTILES[0], shapes) / scipy.stats.gamma.ppf(
        QUANTILES[1], shapes
    )
    low, high = np.quantile(values, QUANTILES)
    shape = float(np.interp(low / high, ratios, shapes))
    scale = float(high) / float(scipy.stats.gamma.ppf(QUANTILES[1], shape))
    n_independent = max(1.0, values.size * 2.0 / N_OVERLAPS)
    tail = TAIL_SHAPE * shape
    isf = float(scipy.stats.gamma.isf(EXPECTED_FALSE / n_independent, tail))
    return Rise(values, scale * isf / TAIL_SHAPE)


def find_impulses(cells: Cells, rise: Rise) -> Found:
    """Every stretch of frames above twice the median that passes the threshold."""
    is_wide = rise.values > min(WIDE_OF_MEDIAN, rise.threshold)
    runs = runs_of(is_wide)
    if runs.size:
        peaks = np.maximum.reduceat(rise.values, runs[:, 0])
        runs = runs[peaks > rise.threshold]
    labels = np.zeros(rise.values.size, dtype=np.int64)
    # The frames beside a run hold a share of the impulse under the window's skirts.
    for place, (first, last) in enumerate(runs):
        labels[max(first - FRAMES_BESIDE, 0) : last + FRAMES_BESIDE] = place + 1
    is_inside = labels > 0
    quiet = cells.powers[~is_inside].mean(axis=0, dtype=np.float64)
    excess = cells.powers.sum(axis=1, dtype=np.float64) - quiet.sum()
    places = np.arange(1, runs.shape[0] + 1)
    energies = np.asarray(scipy.ndimage.sum_labels(excess, labels, places)) / labels.size
    # Squared: of a pulse with discharges behind it, it is the pulse that has a place in time.
    weights = np.square(np.maximum(excess, 0.0))
    mass = np.asarray(scipy.ndimage.sum_labels(weights, labels, places))
    moment = np.asarray(scipy.ndimage.sum_labels(weights * cells.centres_s, labels, places))
    times_s = moment / np.maximum(mass, 1e-300)
    lengths_s = (runs[:, 1] - runs[:, 0]) * cells.hop_s if runs.size else np.zeros(0)
    return Found(times_s, lengths_s, energies, is_inside, labels, float(quiet.sum()))
