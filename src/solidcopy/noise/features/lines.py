"""Steady lines of a spectrum: which there are, where, how strong, and how they drift."""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.ndimage
import scipy.special
import scipy.stats

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray, Reading, dbfs_figure
from solidcopy.noise.features.keying import Keying
from solidcopy.noise.features.spectrum import Spectrum

P_FALSE_LINE = 0.01
"""Chance that a recording of nothing but Gaussian noise shows any line."""
NEIGHBOURHOOD_BINS = 101
"""Bins about a line whose median is its surroundings."""
LINE_REACH_BINS = 2
"""Half a Hann window's main lobe: a line's power lies within."""
BROAD_REACH_BINS = 8
MAX_BROAD_SHARE = 0.5
"""What holds this share of its power further out than a line may is a hump."""
MAX_LINES = 400
MIN_CHUNKS = 4
"""Stretches of time that a scatter or a drift takes at the least."""
KEYED_REACH_HZ = 75.0
"""What keying adds lies mostly so close to a carrier."""
SIDEBANDS = ((KEYED_REACH_HZ, 3.0), (4.0 * KEYED_REACH_HZ, 25.0))
"""Lines so close to a keyed one, and weaker by so many dB, are its sidebands."""


@dataclass(frozen=True, slots=True)
class Line:
    """A carrier, or one of a comb."""

    frequency_hz: Figure
    level_dbfs: Figure
    """Mean over the recording, pauses included; the sidebands of a keyed line are not."""
    over_floor_db: float
    """Over the noise in one bin of the spectrum it was found in."""
    drift_hz_per_s: Reading
    keying: Keying | CannotTell


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """The spectrum as it would be without lines."""

    densities: FloatArray
    """(n_bins,) power per Hz."""
    n_averages: float
    """Independent averages that the scatter of the bins shows; impulses make it small."""


def find_surroundings(spectrum: Spectrum, passband_hz: tuple[float, float]) -> Surroundings:
    """Running median of the bins, corrected to the mean, and their scatter about it.

    Source: derived here: averages of n periodograms of noise follow a gamma distribution of shape
        n, whose median lies below its mean; its interquartile range falls with sqrt(n).
    """
    n_window = min(NEIGHBOURHOOD_BINS, spectrum.densities.size // 4 * 2 + 1)
    medians = scipy.ndimage.median_filter(spectrum.densities, n_window, mode="reflect")
    shape = spectrum.n_averages
    low, middle, high = (float(scipy.stats.gamma.ppf(p, shape)) / shape for p in (0.25, 0.5, 0.75))
    inside = _inside(spectrum, passband_hz) & (medians > 0.0)
    if inside.any():
        quartiles = np.quantile(spectrum.densities[inside] / medians[inside] * middle, [0.25, 0.75])
        wider = float(quartiles[1] - quartiles[0]) / float(high - low)
        shape /= max(1.0, wider**2)
    return Surroundings(medians / middle, max(shape, 0.5))


def find_lines(
    spectrum: Spectrum, around: Surroundings, passband_hz: tuple[float, float]
) -> tuple[Line, ...]:
    """Lines of a spectrum in ascending order of frequency.

    Of Gaussian noise one recording in a hundred shows a line or more. At most 400 are kept,
    the strongest.
    """
    inside = _inside(spectrum, passband_hz) & (around.densities > 0.0)
    inside[: LINE_REACH_BINS + 1] = inside[-LINE_REACH_BINS - 1 :] = False
    ratio = np.ones(spectrum.densities.size)
    ratio[inside] = spectrum.densities[inside] / around.densities[inside]
    threshold = line_threshold(around.n_averages, int(inside.sum()))
    is_peak = ratio == scipy.ndimage.maximum_filter1d(ratio, 2 * LINE_REACH_BINS + 1)
    places = np.flatnonzero(inside & is_peak & (ratio > threshold))
    places = places[[_is_narrow(ratio - 1.0, int(place)) for place in places]]
    places = np.sort(places[np.argsort(-ratio[places])][:MAX_LINES])
    return tuple(_line_at(int(place), spectrum, around) for place in places)


def line_threshold(n_averages: float, n_bins: int) -> float:
    """Ratio to its surroundings that one of `n_bins` bins of noise passes once in 1 / P_FALSE.

    Segments share samples and the surroundings are measured too: by simulation the formula's
    chance is passed up to twice as often, so half of it is allowed for.
    """
    tail = P_FALSE_LINE / 2.0 / max(n_bins, 1)
    return float(scipy.stats.gamma.isf(tail, n_averages)) / n_averages


def _inside(spectrum: Spectrum, passband_hz: tuple[float, float]) -> np.ndarray:
    frequencies_hz = spectrum.frequencies_hz
    return np.asarray((frequencies_hz >= passband_hz[0]) & (frequencies_hz <= passband_hz[1]))


def _is_narrow(excess: FloatArray, place: int) -> bool:
    """Whether what stands out lies within a window's main lobe, and not in a hump about it."""
    wide = excess[max(place - BROAD_REACH_BINS, 0) : place + BROAD_REACH_BINS + 1].sum()
    near = excess[place - LINE_REACH_BINS : place + LINE_REACH_BINS + 1].sum()
    return bool(near > 0.0 and wide - near < MAX_BROAD_SHARE * wide)


def _line_at(place: int, spectrum: Spectrum, around: Surroundings) -> Line:
    densities, noise = spectrum.densities, float(around.densities[place])
    near = densities[place - LINE_REACH_BINS : place + LINE_REACH_BINS + 1] - noise
    power = float(near.sum()) * spectrum.bin_hz
    snr = float(densities[place]) / noise - 1.0
    n_averages = spectrum.n_averages
    # Noise in the five bins summed (neighbours correlated), and its beat with the line, which
    # overlapping segments share: 4 instead of the 2 of separate ones (derived here).
    noise_bins = 2.0 * 1.944 * spectrum.bin_hz * noise / power
    beat = 4.0 * noise * spectrum.bin_hz / power
    relative = math.sqrt((noise_bins**2 * 0.66 + beat) / n_averages)
    # The two numbers are fitted to simulated lines 0 to 40 dB over 1 Hz of noise.
    error_hz = spectrum.bin_hz * 0.38 * math.sqrt((1.0 / snr + 3.0 / snr**2) / n_averages)
    away = _fraction(densities, place, noise)
    if _is_broadened(near, away, noise, n_averages):
        away = _centroid(near)
        error_hz = max(error_hz, _scatter_hz(place, spectrum, noise))
    frequency_hz = (place + away) * spectrum.bin_hz
    return Line(
        frequency_hz=Figure(float(frequency_hz), error_hz),
        level_dbfs=dbfs_figure(power, relative),
        over_floor_db=dbfs_figure(power, 0.0).value
        - dbfs_figure(noise * spectrum.noise_bandwidth_hz, 0.0).value,
        drift_hz_per_s=_drift(place, spectrum, noise),
        keying=CannotTell("not looked at"),
    )


def _fraction(densities: FloatArray, place: int, noise: float) -> float:
    """How far a line lies from the middle of its bin, in bins.

    Source: derived here: amplitudes of a line a bins from the middle of a Hann-windowed bin
        behave as sinc(a) / (1 - a^2), so that of the next bin on its side over that of the
        nearest is r = (1 + a) / (2 - a).
    """
    left, middle, right = np.maximum(densities[place - 1 : place + 2] - noise, 0.0)
    ratio = math.sqrt(max(left, right) / middle) if middle > 0.0 else 0.5
    away = min(max((2.0 * ratio - 1.0) / (1.0 + ratio), 0.0), 0.5)
    return away if right > left else -away


def _is_broadened(near: FloatArray, away: float, noise: float, n_averages: float) -> bool:
    """Whether the weaker neighbour holds more than that of a line which keeps its frequency.

    Args:
        near: (5,) densities about the line, noise taken off.
        away: from the middle of the bin, by the stronger neighbour, in bins.
    """
    middle = float(near[LINE_REACH_BINS])
    weaker = float(min(near[LINE_REACH_BINS - 1], near[LINE_REACH_BINS + 1]))
    expected = ((1.0 - abs(away)) / (2.0 + abs(away))) ** 2 * middle
    error = math.sqrt((noise**2 + 2.0 * noise * expected) / n_averages)
    return weaker > expected + 4.0 * error + 0.01 * middle


def _centroid(near: FloatArray) -> float:
    """Middle of the power of five bins, in bins from the middle one.

    Source: derived here: the mean frequency of a windowed line is its own wherever it lies
        between the bins, and a symmetric broadening leaves it alone; the bins left out hold less
        than 1 / 1000 of the power.
    """
    places = np.arange(-LINE_REACH_BINS, LINE_REACH_BINS + 1)
    return min(max(float(near @ places / near.sum()), -1.0), 1.0)


def _scatter_hz(place: int, spectrum: Spectrum, noise: float) -> float:
    """Standard error of a mean frequency by its scatter from stretch to stretch."""
    reach = slice(place - LINE_REACH_BINS, place + LINE_REACH_BINS + 1)
    near = spectrum.chunk_densities[:, reach] - noise
    near = near[near.sum(axis=1) > 0.0]
    if near.shape[0] < MIN_CHUNKS:
        return spectrum.bin_hz / math.sqrt(12.0 * spectrum.n_averages)
    centroids = np.array([_centroid(row) for row in near])
    return spectrum.bin_hz * float(centroids.std(ddof=1)) / math.sqrt(near.shape[0])


def _drift(place: int, spectrum: Spectrum, noise: float) -> Reading:
    """Straight line through the frequencies in stretches of time."""
    n_chunks = spectrum.chunk_centres_s.size
    if n_chunks < MIN_CHUNKS:
        return CannotTell("a drift needs a longer recording")
    reach = 3
    first = max(place - reach, 1)
    near = spectrum.chunk_densities[:, first : place + reach + 1]
    peaks = near.argmax(axis=1)
    strong = near.max(axis=1) > noise * line_threshold(
        spectrum.n_averages / n_chunks, near.size * 10
    )
    if int(strong.sum()) < max(4, n_chunks // 2):
        return CannotTell("the line is too weak to be followed through the recording")
    times_s = spectrum.chunk_centres_s[strong]
    bins = [
        first + peak + _fraction(row, int(first + peak), noise)
        for row, peak in zip(spectrum.chunk_densities[strong], peaks[strong], strict=True)
        if 0 < first + peak < row.size - 1
    ]
    if len(bins) < times_s.size:
        return CannotTell("the line lies at the end of the spectrum")
    fit = scipy.stats.linregress(times_s, np.array(bins) * spectrum.bin_hz)
    return Figure(float(fit.slope), float(fit.stderr))


def with_keying(
    line: Line, keying: Keying | CannotTell, spectrum: Spectrum, around: Surroundings
) -> Line:
    """The line and what it does over time; a keyed one gets the power of its sidebands as well."""
    if isinstance(keying, CannotTell) or keying.kind != "keyed":
        return replace(line, keying=keying)
    low_hz = max(line.frequency_hz.value - KEYED_REACH_HZ, 0.0)
    high_hz = line.frequency_hz.value + KEYED_REACH_HZ
    first, last = math.ceil(low_hz / spectrum.bin_hz), math.floor(high_hz / spectrum.bin_hz)
    noise = float(around.densities[first : last + 1].sum()) * spectrum.bin_hz
    level_dbfs = units.dbfs_from_power(max(spectrum.power_between(low_hz, high_hz) - noise, 0.0))
    on_dbfs = level_dbfs - units.db_from_ratio(max(keying.share_on.value, 1e-3))
    return replace(line, keying=replace(keying, level_dbfs=level_dbfs, level_on_dbfs=on_dbfs))


def without_sidebands(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Leave out what keying puts around a carrier: lines close to a keyed one, and weaker."""
    keyed = [line for line in lines if is_keyed(line)]
    return tuple(
        line
        for line in lines
        if not any(
            abs(line.frequency_hz.value - carrier.frequency_hz.value) < reach_hz
            and line.level_dbfs.value < carrier.level_dbfs.value - weaker_db
            for carrier in keyed
            for reach_hz, weaker_db in SIDEBANDS
        )
    )


def is_keyed(line: Line) -> bool:
    """Whether a line was seen to be switched on and off."""
    return isinstance(line.keying, Keying) and line.keying.kind == "keyed"
