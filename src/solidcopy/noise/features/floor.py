"""Noise floor: what is left of a recording between its lines, humps and impulses.

Each frequency is watched over time and only the weakest share of the moments is kept (the idea of
the "80 % method" of ITU-R SM.1753: discard the highest 80 % and average the rest), so keyed
carriers and impulses do not count. Across frequency, what stands out of its neighbourhood does
not count either.
"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.ndimage
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from solidcopy.noise.features.figure import CannotTell, FloatArray, Reading, dbfs_figure
from solidcopy.noise.features.spectrum import independent_averages, segment_powers
from solidcopy.signals.power import AnySamples

KEPT_SHARE = 0.2
"""Share of the moments that is averaged: the lowest fifth (SM.1753, as restated in FACTS C3)."""
FRAME_S = 0.05
"""Short against the pauses of keying and between pulses, long against 1 / 100 Hz."""
STRETCH_S = 60.0
"""The weakest moments are looked for anew so often, and the floors averaged."""
MIN_FRAMES = 20
LEAST_KEPT = 0.5
SILENT_POWER = 1e-20
"""A frame of less (in all bins but those of the mean) is a gap, and no floor."""
SMOOTH_BINS = 5
"""Bins averaged before one may stand out of its neighbourhood."""
STANDS_OUT_ERRORS = 4.5
"""Standard deviations over the neighbourhood beyond which a bin is no floor."""
PASSBAND_DB = 20.0
"""The passband ends where the floor is so far below its level."""
PASSBAND_SHARE = 0.05
PASSBAND_MIN_HZ = 300.0
"""That level is exceeded in so much of the spectrum: no hump is taken for the passband."""
CLOSED_GAP_HZ = 200.0
N_REGIONS = 8
BESIDE_HZ = 200.0


@dataclass(frozen=True, slots=True, eq=False)
class FloorCurve:
    """Density of the weakest moments at each frequency, unbiased for Gaussian noise."""

    densities: FloatArray
    """(n_bins,) power per Hz, one-sided."""
    bin_hz: float
    relative_error: float
    """Standard deviation of one bin in Gaussian noise, over its value."""

    @property
    def frequencies_hz(self) -> FloatArray:
        """(n_bins,)."""
        return self.bin_hz * np.arange(self.densities.size, dtype=np.float64)

    def density_near(self, frequency_hz: float) -> float:
        """Median within 200 Hz, what is close by left out: power per Hz beside a line."""
        away_hz = np.abs(self.frequencies_hz - frequency_hz)
        beside = self.densities[(away_hz < BESIDE_HZ) & (away_hz > 2.0 * self.bin_hz)]
        return float(np.median(beside))


@dataclass(frozen=True, slots=True)
class FloorRegion:
    """The floor in one part of the passband."""

    low_hz: float
    high_hz: float
    density_dbfs_per_hz: Reading


@dataclass(frozen=True, slots=True)
class Floor:
    """The noise floor of a recording."""

    passband_hz: tuple[float, float]
    """Where the floor lies within 20 dB of its level."""
    regions: tuple[FloorRegion, ...]
    """Equal parts of the passband, from low to high."""
    level_dbfs: Reading
    """Of the whole passband, as if all of it were floor."""


def lowest_mean(n_frames: int, n_kept: int) -> float:
    """Mean of the `n_kept` lowest of `n_frames` powers of unit mean of Gaussian noise.

    Source: derived here. A windowed transform of Gaussian noise has exponential powers; the i-th
        lowest of n has the mean 1/n + 1/(n - 1) + ... + 1/(n - i + 1).
    """
    place = np.arange(n_kept)
    return float(np.mean(np.cumsum(1.0 / (n_frames - place))))


def lowest_mean_error(n_frames: float, share: float) -> float:
    """Relative standard deviation of that mean, for many frames.

    Source: derived here. A trimmed mean moves with each value x by (min(x, a) - E) / (share n),
        a the quantile; for exponential x the mean square of min(x, a) is twice the sum below.
    """
    log_rest = math.log1p(-share)
    sum_below = share + (1.0 - share) * log_rest
    variance = 2.0 * sum_below - share**2
    return math.sqrt(variance / n_frames) / sum_below


def measure_floor_curve(
    samples: AnySamples,
    *,
    sample_rate_hz: float,
    mean: float = 0.0,
    is_kept: NDArray[np.bool_] | None = None,
) -> FloorCurve | CannotTell:
    """The weakest fifth of the moments at each frequency, averaged and made unbiased.

    Args:
        samples: (n_samples,) real.
        mean: taken off first.
        is_kept: (n_samples,) False where samples were set to nothing; frames that lost more than
            half of their power to this do not count, others are made up for what they lost.
    Returns: the curve; CannotTell for a recording of fewer than 20 frames of 50 ms.
    """
    n_frame = 2 * scipy.fft.next_fast_len(round(FRAME_S * sample_rate_hz / 2.0), real=True)
    n_stretches = max(1, math.ceil(samples.size / sample_rate_hz / STRETCH_S))
    n_frames = (samples.size // n_stretches - n_frame) // (n_frame // 2) + 1
    if n_frames < MIN_FRAMES:
        least_s = (MIN_FRAMES + 1) * FRAME_S / 2.0
        return CannotTell(f"a noise floor needs {least_s:.2g} s or more")
    total = np.zeros(n_frame // 2 + 1)
    n_sounding = 0
    kept_parts = [None] if is_kept is None else np.array_split(is_kept, n_stretches)
    for part, kept_part in itertools.zip_longest(np.array_split(samples, n_stretches), kept_parts):
        powers = _sounding_frames(part, kept_part, n_frame, mean)
        n_sounding += powers.shape[0]
        if powers.shape[0] == 0:
            continue
        n_kept = math.ceil(KEPT_SHARE * powers.shape[0])
        powers.partition(n_kept - 1, axis=0)
        kept = powers[:n_kept].mean(axis=0, dtype=np.float64)
        total += kept / lowest_mean(powers.shape[0], n_kept) * powers.shape[0]
    if n_sounding < max(MIN_FRAMES, KEPT_SHARE * n_frames * n_stretches):
        return CannotTell("the recording is silent, or nearly all of the time")
    return FloorCurve(
        densities=total / (n_sounding * sample_rate_hz),
        bin_hz=sample_rate_hz / n_frame,
        relative_error=lowest_mean_error(independent_averages(n_sounding), KEPT_SHARE),
    )


def _sounding_frames(
    samples: AnySamples, is_kept: NDArray[np.bool_] | None, n_frame: int, mean: float
) -> NDArray[np.float32]:
    """(n_frames, n_bins) powers of the frames that hold enough, made up for what they lost."""
    batches = segment_powers(samples, n_frame, mean=mean)
    powers = np.concatenate([batch.astype(np.float32) for batch in batches])
    if is_kept is not None:
        shares = _kept_shares(is_kept, n_frame)
        is_whole = shares >= LEAST_KEPT
        powers = powers[is_whole] / shares[is_whole, None].astype(np.float32)
    is_sounding = powers[:, 3:].sum(axis=1, dtype=np.float64) > SILENT_POWER
    return np.asarray(powers[is_sounding])


def _kept_shares(is_kept: NDArray[np.bool_], n_frame: int) -> FloatArray:
    """(n_frames,) of the power of white noise, what each half-overlapping Hann frame keeps."""
    window = 0.5 - 0.5 * np.cos(2.0 * math.pi * np.arange(n_frame) / n_frame)
    weights = np.square(window)
    frames = sliding_window_view(is_kept, n_frame)[:: n_frame // 2]
    shares: FloatArray = frames @ (weights / weights.sum())
    return shares


def find_passband(curve: FloorCurve) -> tuple[float, float] | None:
    """The widest stretch of spectrum where the floor keeps its level; None for silence."""
    smooth = scipy.ndimage.median_filter(curve.densities, SMOOTH_BINS, mode="nearest")
    n_bins = smooth.size - 2  # the bins at both ends hold the mean and half the rate
    half_rate_hz = curve.bin_hz * (curve.densities.size - 1)
    share_hz = max(PASSBAND_SHARE * half_rate_hz, min(PASSBAND_MIN_HZ, half_rate_hz / 2.0))
    level = float(np.sort(smooth[1:-1])[-max(1, math.floor(share_hz / half_rate_hz * n_bins))])
    if level <= 0.0:
        return None
    is_inside = smooth > level * 10.0 ** (-PASSBAND_DB / 10.0)
    is_inside[[0, -1]] = False
    n_gap = max(1, round(CLOSED_GAP_HZ / curve.bin_hz))
    padded = np.pad(is_inside, n_gap)
    closed = scipy.ndimage.binary_closing(padded, np.ones(n_gap, dtype=np.bool_))[n_gap:-n_gap]
    runs = runs_of(closed)
    first, last = runs[int(np.argmax(runs[:, 1] - runs[:, 0]))]
    return (
        max(float(first - 0.5) * curve.bin_hz, 0.0),
        min(float(last - 0.5) * curve.bin_hz, half_rate_hz),
    )


def runs_of(flags: np.ndarray) -> np.ndarray:
    """First and one past the last place of each run of True, (n_runs, 2)."""
    edges = np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))
    return np.stack([np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)], axis=1)


def neighbourhood(values: FloatArray, n_wide: int) -> tuple[FloatArray, float]:
    """What smooth values would be without anything narrower than `n_wide` bins standing out.

    Args:
        values: (n_bins,) positive, already averaged over SMOOTH_BINS bins.
        n_wide: an edge of the passband stays where it is; a peak narrower than this goes.
    Returns: (n_bins,) the neighbourhood, and the relative standard deviation of `values` about it.
    Source: derived here. The lowest value within a window, then the highest of these (the opening
        of mathematical morphology), moved up by its median distance, since lowest values of
        noise lie low; the deviation is that of neighbours just beyond the averaging.
    """
    levels = np.log(np.maximum(values, values.max() * 1e-20))
    # A slope over the whole passband is no peak at its upper end, nor is the bend between a level
    # top and a long skirt: what either a level or a sloping stretch fits under stays.
    half = levels.size // 2
    slope = float(np.median(levels[half:] - levels[: levels.size - half])) / half
    tilts = [slope * np.arange(levels.size), np.zeros(levels.size)]
    opened = np.max([_opened(levels - tilt, n_wide) + tilt for tilt in tilts], axis=0)
    steps = levels[SMOOTH_BINS:] - levels[:-SMOOTH_BINS]
    error = float(np.median(np.abs(steps - np.median(steps)))) / 0.6745 / math.sqrt(2.0)
    above = levels - opened
    return np.exp(opened + np.median(above)), error


def _opened(levels: FloatArray, n_wide: int) -> FloatArray:
    """Without anything narrower than `n_wide` that stands up."""
    # A bend goes on beyond both ends, so that it is no peak there.
    n_pad = min(n_wide, levels.size - 1)
    padded = np.pad(levels, n_pad, mode="reflect", reflect_type="odd")
    opened = scipy.ndimage.grey_opening(padded, (max(3, n_wide),), mode="nearest")
    return np.asarray(opened[n_pad : n_pad + levels.size])


def summarise_floor(curve: FloorCurve, passband_hz: tuple[float, float]) -> Floor:
    """The floor in parts of the passband, leaving out what stands out of its neighbourhood."""
    low_hz, high_hz = passband_hz
    inside = slice(math.ceil(low_hz / curve.bin_hz), math.floor(high_hz / curve.bin_hz) + 1)
    densities, frequencies_hz = curve.densities[inside], curve.frequencies_hz[inside]
    smooth = scipy.ndimage.uniform_filter1d(densities, SMOOTH_BINS, mode="nearest")
    around, error = neighbourhood(smooth, densities.size // 3)
    is_floor = smooth < around * (1.0 + STANDS_OUT_ERRORS * error)
    edges_hz = np.linspace(low_hz, high_hz, N_REGIONS + 1)
    regions = []
    power = variance = 0.0
    for bottom_hz, top_hz in itertools.pairwise(edges_hz.tolist()):
        here = densities[is_floor & (frequencies_hz >= bottom_hz) & (frequencies_hz < top_hz)]
        density: Reading = CannotTell("lines or a hump cover this part of the passband")
        if here.size:
            # The Hann window makes neighbouring bins share two thirds of their noise amplitude,
            # and so (simulated) half of what their weakest moments do.
            relative = curve.relative_error * math.sqrt(1.5 / here.size)
            density = dbfs_figure(float(here.mean()), relative)
            power += float(here.mean() * (top_hz - bottom_hz))
            variance += float(here.mean() * (top_hz - bottom_hz) * relative) ** 2
        regions.append(FloorRegion(float(bottom_hz), float(top_hz), density))
    is_whole = all(not isinstance(region.density_dbfs_per_hz, CannotTell) for region in regions)
    level: Reading = CannotTell("lines or humps cover part of the passband")
    if is_whole and power > 0.0:
        level = dbfs_figure(power, math.sqrt(variance) / power)
    return Floor((low_hz, high_hz), tuple(regions), level)
