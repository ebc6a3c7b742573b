"""Rhythms too fast for impulses to be told one by one: lines in the spectrum of the rise."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.noise.features.figure import Figure, FloatArray
from solidcopy.noise.features.lines import Line, find_lines, find_surroundings
from solidcopy.noise.features.spectrum import Spectrum, measure_spectrum

SLOWEST_HZ = 8.0
"""Slower ones are told impulse by impulse."""
FASTEST_OF_FRAMES = 1.6
"""Frames smear a rhythm of more than so many times 1 / frame length until nothing is left."""
SEGMENT_LIMITS_S = (1.0, 12.0)
SEGMENTS = 5.0
SAME_SHARE = 0.9
"""A higher fundamental that explains so much of what a lower one does is the better one."""
P_FALSE_BEAT = 1e-4
"""Chance that a recording without a fast rhythm shows one."""
N_PHASES = 24
QUIET_PHASES = 0.3
"""Share of a period in which nothing but the floor is assumed."""


@dataclass(frozen=True, slots=True, eq=False)
class Beat:
    """A rhythm of the whole passband."""

    rhythm_hz: Figure
    n_harmonics: int
    p_chance: float
    """Chance that noise without a rhythm shows such a line anywhere in the search."""


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Mean power over one period."""

    powers: FloatArray
    """(N_PHASES,); phases that no frame fell into lie on a straight line between the others."""
    mean: float
    """Of all frames."""
    quiet: float
    """Mean of the quietest phases."""
    phases: FloatArray
    """(n_frames,) 0 to 1, of the frames folded."""

    @property
    def excess(self) -> float:
        """What the rhythm adds to the mean power."""
        return self.mean - self.quiet

    def at(self, phases: FloatArray) -> FloatArray:
        """(n,) the mean power at phases from 0 to 1."""
        return self.powers[np.minimum((phases * N_PHASES).astype(np.int64), N_PHASES - 1)]

    @property
    def is_on(self) -> np.ndarray:
        """(N_PHASES,) phases above a quarter of the peak."""
        return np.asarray(self.powers > self.quiet + 0.25 * (self.powers.max() - self.quiet))


def find_beats(rise: FloatArray, *, hop_s: float, frame_s: float, cap: float) -> list[Beat]:
    """Rhythms of the rise, the strongest first.

    Args:
        rise: (n_frames,) 1 in the median.
        cap: values beyond count as this: no single impulse makes a rhythm.
    """
    capped = np.minimum(rise, cap)
    duration_s = rise.size * hop_s
    segment_s = min(max(duration_s / SEGMENTS, SEGMENT_LIMITS_S[0]), SEGMENT_LIMITS_S[1])
    fastest_hz = min(FASTEST_OF_FRAMES / frame_s, 0.45 / hop_s)
    if duration_s < 2.0 * segment_s or fastest_hz < 2.0 * SLOWEST_HZ:
        return []
    spectrum = measure_spectrum(
        capped, sample_rate_hz=1.0 / hop_s, segment_s=segment_s, mean=float(capped.mean())
    )
    around = find_surroundings(spectrum, (SLOWEST_HZ, fastest_hz))
    lines = list(find_lines(spectrum, around, (SLOWEST_HZ, fastest_hz)))
    beats: list[Beat] = []
    while lines:
        group, numbers = _best_group(lines, spectrum)
        beat = _beat(group, numbers, spectrum, around.n_averages)
        if beat.p_chance < P_FALSE_BEAT:
            beats.append(beat)
        lines = [line for line in lines if line not in group]
    return beats


def _power(line: Line) -> float:
    return units.power_from_dbfs(line.level_dbfs.value)


def _best_group(lines: list[Line], spectrum: Spectrum) -> tuple[list[Line], list[int]]:
    """Lines that are multiples of one of them, and which: the group that explains most."""
    groups = []
    for first in lines:
        f0 = first.frequency_hz.value
        members = [
            (line, round(line.frequency_hz.value / f0))
            for line in lines
            if abs(line.frequency_hz.value - round(line.frequency_hz.value / f0) * f0)
            < 0.6 * spectrum.bin_hz * max(1, round(line.frequency_hz.value / f0)) ** 0.5
            and round(line.frequency_hz.value / f0) >= 1
        ]
        groups.append((sum(_power(line) for line, _ in members), f0, members))
    most = max(total for total, _, _ in groups)
    good = [group for group in groups if group[0] >= SAME_SHARE * most]
    _, _, members = max(good, key=lambda group: group[1])
    return [line for line, _ in members], [number for _, number in members]


def _beat(group: list[Line], numbers: list[int], spectrum: Spectrum, n_averages: float) -> Beat:
    """Fundamental by least squares from all harmonics, weighted by their errors."""
    order = np.array(numbers, dtype=np.float64)
    places = np.array([line.frequency_hz.value for line in group])
    errors = np.array([max(line.frequency_hz.standard_error, 1e-4) for line in group])
    weights = np.square(order / errors)
    value = float((weights * places / order).sum() / weights.sum())
    strongest = max(line.over_floor_db for line in group)
    ratio = 1.0 + units.ratio_from_db(strongest)
    tail = -n_averages * (ratio - 1.0 - math.log(ratio))
    p_chance = min(1.0, spectrum.densities.size * math.exp(max(tail, -600.0)))
    return Beat(Figure(value, 1.0 / math.sqrt(weights.sum())), len(group), p_chance)


def fold(powers: FloatArray, centres_s: FloatArray, rhythm_hz: float) -> Profile:
    """Mean power over one period of a rhythm.

    Args:
        powers, centres_s: (n_frames,) of the frames to be folded.
    """
    phases = (centres_s * rhythm_hz) % 1.0
    place = np.minimum((phases * N_PHASES).astype(np.int64), N_PHASES - 1)
    counts = np.bincount(place, minlength=N_PHASES)
    filled = np.flatnonzero(counts)
    sums = np.bincount(place, weights=powers, minlength=N_PHASES)
    # A rhythm that fits into a whole number of hops leaves phases empty.
    means = np.interp(
        np.arange(N_PHASES), filled, sums[filled] / counts[filled], period=float(N_PHASES)
    )
    n_quiet = max(1, round(QUIET_PHASES * N_PHASES))
    doubled = np.concatenate([means, means])
    # The quietest connected stretch: picking the lowest phases one by one would read too low.
    stretches = np.convolve(doubled, np.ones(n_quiet), mode="valid")[:N_PHASES] / n_quiet
    return Profile(means, float(powers.mean()), float(stretches.min()), phases)
