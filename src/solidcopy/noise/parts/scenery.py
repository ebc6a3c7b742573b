"""The spectrum that narrow parts are found in, and what it would be without them."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.ndimage

from solidcopy import units
from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.features.floor import SMOOTH_BINS, neighbourhood
from solidcopy.noise.features.humps import CELL_HZ, WIDEST_SHARE, make_cells, without_lines
from solidcopy.noise.features.lines import Line, find_lines, find_surroundings
from solidcopy.noise.features.spectrum import Spectrum
from solidcopy.noise.parts.narrow import Transform
from solidcopy.noise.parts.part import Times


@dataclass(frozen=True, slots=True, eq=False)
class Scenery:
    """What the narrow parts are found in."""

    spectrum: Spectrum
    """Impulses told one by one taken out."""
    transform: Transform
    passband_hz: tuple[float, float]
    base: FloatArray
    """(n_bins,) power per Hz of the noise without lines and humps."""
    nearby: FloatArray
    """(n_bins,) power per Hz close by, humps included."""
    n_averages: float
    """Independent averages that the scatter of the bins shows; impulses make it small."""
    is_beaten: bool
    """A fast rhythm of impulses lies over everything and moves every band's envelope."""

    def density_in(self, band_hz: tuple[float, float]) -> float:
        """Mean power per Hz of the noise in a band."""
        first = max(math.ceil(band_hz[0] / self.spectrum.bin_hz), 0)
        last = max(math.floor(band_hz[1] / self.spectrum.bin_hz), first)
        return float(self.base[first : last + 1].mean())


def scenery_of(
    spectrum: Spectrum,
    transform: Transform,
    passband_hz: tuple[float, float],
    *,
    is_beaten: bool,
) -> Scenery:
    """A spectrum with what it would be without anything that stands out of it."""
    around = find_surroundings(spectrum, passband_hz)
    lines = find_lines(spectrum, around, passband_hz)
    cells = make_cells(
        without_lines(spectrum, lines), spectrum.bin_hz, passband_hz, cell_hz=CELL_HZ
    )
    base = around.densities
    if cells.densities.size > 12 * SMOOTH_BINS and cells.densities.min() > 0.0:
        smooth = scipy.ndimage.uniform_filter1d(cells.densities, SMOOTH_BINS, mode="nearest")
        level, _ = neighbourhood(smooth, round(WIDEST_SHARE * smooth.size))
        base = np.interp(spectrum.frequencies_hz, cells.frequencies_hz, level)
    return Scenery(
        spectrum, transform, passband_hz, base, around.densities, around.n_averages, is_beaten
    )


def line_power(line: Line) -> float:
    """Mean square."""
    return units.power_from_dbfs(line.level_dbfs.value)


def whole_time(scenery: Scenery) -> Times:
    """From the first to the last moment."""
    return Times(0.0, scenery.transform.duration_s, 1.0)
