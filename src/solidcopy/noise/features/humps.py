"""Humps: stretches of spectrum, wider than a line, where noise stands above its surroundings."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.ndimage
import scipy.stats

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray, Reading, dbfs_figure
from solidcopy.noise.features.floor import SMOOTH_BINS, FloorCurve, neighbourhood, runs_of
from solidcopy.noise.features.lines import KEYED_REACH_HZ, Line, is_keyed
from solidcopy.noise.features.spectrum import Spectrum

CELL_HZ = 5.0
"""Bins of the spectrum are averaged into cells about so wide."""
STANDS_OUT_ERRORS = 5.0
MIN_CELLS = 5
MAX_GAP_CELLS = 4
WIDEST_SHARE = 1.0 / 3.0
"""What is wider than this share of the passband is its shape, and no hump."""
MIN_RATIO = 1.1
LEAKAGE_DB = 40.0
"""A hump so far below a line within it may be the line's own skirt."""
MIN_LASTING = 0.25
"""Share of a hump that the weakest moments must show."""


@dataclass(frozen=True, slots=True)
class Hump:
    """Noise in a band of its own over the surrounding noise."""

    centre_hz: Figure
    """Of its power."""
    width_hz: Figure
    """Of the rectangle of equal fluctuation: squared power over the sum of squared density."""
    edges_hz: tuple[float, float]
    """Where it sinks into the surrounding noise."""
    level_dbfs: Figure
    """Of the hump alone."""
    peak_over_floor_db: float
    drift_hz_per_s: Reading


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """A spectrum without its lines, in coarser steps."""

    densities: FloatArray
    """(n_cells,) power per Hz."""
    first_hz: float
    """Middle of the first cell."""
    cell_hz: float
    n_bins: int
    """Bins of the spectrum in a cell."""

    @property
    def frequencies_hz(self) -> FloatArray:
        """(n_cells,)."""
        return self.first_hz + self.cell_hz * np.arange(self.densities.size, dtype=np.float64)


def without_lines(spectrum: Spectrum, lines: tuple[Line, ...]) -> FloatArray:
    """Densities with each line's bins bridged by a straight stroke, (n_bins,).

    Source: derived here: leakage of a Hann window falls with the sixth power of the distance.
    """
    is_line = np.zeros(spectrum.densities.size, dtype=bool)
    for line in lines:
        place = line.frequency_hz.value / spectrum.bin_hz
        reach = 3.0 + units.ratio_from_db(line.over_floor_db) ** (1.0 / 6.0)
        if is_keyed(line):
            reach += KEYED_REACH_HZ / spectrum.bin_hz
        first = max(math.floor(place - reach), 0)
        is_line[first : math.ceil(place + reach) + 1] = True
    if not is_line.any() or is_line.all():
        return spectrum.densities.copy()
    kept = np.flatnonzero(~is_line)
    return np.interp(np.arange(is_line.size), kept, spectrum.densities[kept])


def make_cells(
    densities: FloatArray, bin_hz: float, passband_hz: tuple[float, float], *, cell_hz: float
) -> Cells:
    """Average neighbouring bins within the passband into cells of about `cell_hz`."""
    n_bins = max(1, round(cell_hz / bin_hz))
    first = max(math.ceil(passband_hz[0] / bin_hz), 3)
    last = min(math.floor(passband_hz[1] / bin_hz), densities.size - 4)
    n_cells = max((last - first + 1) // n_bins, 0)
    cells = densities[first : first + n_cells * n_bins].reshape(n_cells, n_bins).mean(axis=1)
    return Cells(cells, (first + (n_bins - 1) / 2.0) * bin_hz, n_bins * bin_hz, n_bins)


def find_humps(
    spectrum: Spectrum,
    lines: tuple[Line, ...],
    curve: FloorCurve,
    passband_hz: tuple[float, float],
) -> tuple[Hump, ...] | CannotTell:
    """Humps in ascending order of frequency; CannotTell where the passband is too narrow.

    Args:
        curve: the weakest moments at each frequency; what these do not show is made of impulses
            or keying, and no hump.
    """
    cells = make_cells(
        without_lines(spectrum, lines), spectrum.bin_hz, passband_hz, cell_hz=CELL_HZ
    )
    n_cells = cells.densities.size
    if n_cells < 12 * SMOOTH_BINS or cells.densities.min() <= 0.0:
        return CannotTell("humps need a longer recording or a wider passband")
    smooth = scipy.ndimage.uniform_filter1d(cells.densities, SMOOTH_BINS, mode="nearest")
    around, error = neighbourhood(smooth, round(WIDEST_SHARE * n_cells))
    threshold = max(MIN_RATIO, 1.0 + STANDS_OUT_ERRORS * error)
    stands_out = smooth > around * threshold
    closed = scipy.ndimage.binary_closing(
        np.pad(stands_out, MAX_GAP_CELLS), np.ones(MAX_GAP_CELLS, dtype=np.bool_)
    )
    runs = runs_of(closed[MAX_GAP_CELLS:-MAX_GAP_CELLS])
    whole = [_grown(run, smooth, around * (1.0 + error)) for run in runs if np.ptp(run) > 1]
    seen: dict[tuple[int, int], None] = dict.fromkeys(
        run for run in whole if run[1] - run[0] >= MIN_CELLS
    )
    return tuple(
        hump
        for run in seen
        if (hump := _hump_in(run, cells, around, spectrum)) is not None
        and _is_lasting(hump, curve)
        and not _is_leakage(hump, lines)
    )


def _grown(run: np.ndarray, smooth: FloatArray, rim: FloatArray) -> tuple[int, int]:
    """A run made longer on both sides until the noise sinks to the rim."""
    below = np.flatnonzero(smooth <= rim)
    left = below[below < run[0]]
    right = below[below >= run[1]]
    first = int(left[-1]) + 1 if left.size else 0
    return first, int(right[0]) if right.size else smooth.size


def _hump_in(
    run: tuple[int, int], cells: Cells, around: FloatArray, spectrum: Spectrum
) -> Hump | None:
    here = slice(*run)
    densities, frequencies_hz = cells.densities[here], cells.frequencies_hz[here]
    excess = densities - around[here]
    # Bins of a Hann window share so much that 1.94 of them hold one independent reading.
    n_free = spectrum.n_averages * max(1.0, cells.n_bins / 1.94)
    variances = np.square(densities) / n_free
    power = float(excess.sum())
    squares = float(np.square(excess).sum() - variances.sum())
    if power <= 0.0 or squares <= 0.0:
        return None
    centre_hz = float(excess @ frequencies_hz) / power
    away_hz = frequencies_hz - centre_hz
    error_hz = math.sqrt(float(np.square(away_hz) @ variances)) / power
    relative = math.sqrt(float(variances.sum())) / power
    width_hz = power**2 / squares * cells.cell_hz
    slope = 2.0 * (1.0 / power - excess / squares)
    width_error = math.sqrt(float(np.square(slope) @ variances))
    half = cells.cell_hz / 2.0
    edges_hz = (float(frequencies_hz[0]) - half, float(frequencies_hz[-1]) + half)
    return Hump(
        centre_hz=Figure(centre_hz, error_hz),
        width_hz=Figure(width_hz, width_hz * width_error),
        edges_hz=edges_hz,
        level_dbfs=dbfs_figure(power * cells.cell_hz, relative),
        peak_over_floor_db=units.db_from_ratio(
            float(scipy.ndimage.uniform_filter1d(densities / around[here], 3).max())
        ),
        drift_hz_per_s=_drift(edges_hz, spectrum, float(around[here].mean())),
    )


def _is_leakage(hump: Hump, lines: tuple[Line, ...]) -> bool:
    """Whether a line within is so strong that the window's own skirts may make the hump."""
    low_hz, high_hz = hump.edges_hz
    return any(
        low_hz - KEYED_REACH_HZ < line.frequency_hz.value < high_hz + KEYED_REACH_HZ
        and line.level_dbfs.value > hump.level_dbfs.value + LEAKAGE_DB
        for line in lines
    )


def _is_lasting(hump: Hump, curve: FloorCurve) -> bool:
    """Whether the weakest moments show a fair share of the hump."""
    low_hz, high_hz = hump.edges_hz
    width_hz = high_hz - low_hz
    frequencies_hz = curve.frequencies_hz
    is_inside = (frequencies_hz > low_hz - curve.bin_hz) & (frequencies_hz < high_hz + curve.bin_hz)
    reach_hz = width_hz + 5.0 * curve.bin_hz
    is_near = (frequencies_hz > low_hz - reach_hz) & (frequencies_hz < high_hz + reach_hz)
    if not is_inside.any() or not (is_near & ~is_inside).any():
        return False
    floor = float(np.median(curve.densities[is_near & ~is_inside]))
    power = float((curve.densities[is_inside] - floor).sum()) * curve.bin_hz
    return power > MIN_LASTING * units.power_from_dbfs(hump.level_dbfs.value)


def _drift(edges_hz: tuple[float, float], spectrum: Spectrum, floor: float) -> Reading:
    """Straight line through the centres in stretches of time."""
    n_chunks = spectrum.chunk_centres_s.size
    if n_chunks < 4:
        return CannotTell("a drift needs a longer recording")
    first = math.ceil(edges_hz[0] / spectrum.bin_hz)
    last = math.floor(edges_hz[1] / spectrum.bin_hz)
    excess = spectrum.chunk_densities[:, first : last + 1] - floor
    powers = excess.sum(axis=1)
    spread = floor * math.sqrt(excess.shape[1] * n_chunks / spectrum.n_averages)
    if bool((powers < 5.0 * spread).any()):
        return CannotTell("the hump is too weak to be followed through the recording")
    centres_hz = excess @ spectrum.frequencies_hz[first : last + 1] / powers
    fit = scipy.stats.linregress(spectrum.chunk_centres_s, centres_hz)
    return Figure(float(fit.slope), float(fit.stderr))
