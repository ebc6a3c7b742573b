"""Combs of evenly spaced lines: a clock's harmonics, a switching supply's, the mains'."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy.stats
from numpy.typing import NDArray

from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray
from solidcopy.noise.features.lines import Line

MIN_TEETH = 4
STRONGEST = 80
"""So many lines are compared with each other."""
P_FALSE_COMB = 1e-3
"""Chance that lines at random frequencies show a comb."""
MAX_COMBS = 5
MIN_SPACING_BINS = 5.0
MAINS_TOLERANCE = 0.006


@dataclass(frozen=True, slots=True)
class Comb:
    """Lines at offset + n * spacing."""

    spacing_hz: Figure
    offset_hz: Figure
    """Of the tooth nearest to 0 Hz, between plus and minus half a spacing: 0 for true harmonics
    of the spacing, anything behind a receiver that shifts frequency."""
    lines: tuple[int, ...]
    """Their places in the list of lines."""
    numbers: tuple[int, ...]
    """n of each; those in between are missing."""
    mains_hz: Literal[50, 60] | None
    """The spacing is once or twice this mains frequency."""
    p_chance: float


def find_combs(
    lines: tuple[Line, ...], passband_hz: tuple[float, float], bin_hz: float
) -> tuple[Comb, ...] | CannotTell:
    """Combs among lines, that with most lines first."""
    if len(lines) < MIN_TEETH:
        return () if bin_hz < 5.0 else CannotTell("combs need a longer recording")
    frequencies_hz = np.array([line.frequency_hz.value for line in lines])
    errors_hz = np.array([line.frequency_hz.standard_error for line in lines])
    tolerances_hz = np.maximum(4.0 * errors_hz, 0.1 * bin_hz)
    levels = np.array([line.level_dbfs.value for line in lines])
    left = np.sort(np.argsort(-levels)[:STRONGEST])
    combs: list[Comb] = []
    while left.size >= MIN_TEETH and len(combs) < MAX_COMBS:
        teeth = _best_teeth(frequencies_hz[left], tolerances_hz[left], passband_hz, bin_hz)
        if teeth is None:
            break
        members, numbers, p_chance = teeth
        places = left[members]
        combs.append(_comb(lines, places, numbers, p_chance))
        left = np.setdiff1d(left, places)
    return tuple(combs)


def _best_teeth(
    frequencies_hz: FloatArray,
    tolerances_hz: FloatArray,
    passband_hz: tuple[float, float],
    bin_hz: float,
) -> tuple[NDArray[np.int64], NDArray[np.int64], float] | None:
    """The set of lines that chance would least have put on even places.

    Source: derived here. Differences of lines, and their halves and thirds, are tried as
        spacings, about each line in turn. Of n lines at random frequencies each falls within t
        of a tooth with chance 2 t / spacing: the number of hits is binomial.
    """
    differences = np.abs(frequencies_hz[:, None] - frequencies_hz[None, :])
    candidates = np.concatenate([differences[differences > 0.0] / part for part in (1, 2, 3)])
    width_hz = passband_hz[1] - passband_hz[0]
    candidates = candidates[
        (candidates > MIN_SPACING_BINS * bin_hz) & (candidates < width_hz / (MIN_TEETH - 1))
    ]
    candidates = np.unique(np.round(candidates / (0.05 * bin_hz))) * (0.05 * bin_hz)
    n_trials = max(candidates.size * frequencies_hz.size, 1)
    best: tuple[NDArray[np.int64], NDArray[np.int64], float] | None = None
    for spacing_hz in candidates:
        teeth = _teeth_of(frequencies_hz, tolerances_hz, float(spacing_hz))
        if teeth is None:
            continue
        members, numbers = teeth
        span = int(np.ptp(numbers))
        p_hit = min(2.0 * float(tolerances_hz.mean()) / float(spacing_hz), 1.0)
        p_chance = n_trials * float(
            scipy.stats.binom.sf(members.size - 2, frequencies_hz.size - 1, p_hit)
        )
        # A comb with most of its teeth missing is one of a multiple of its spacing.
        is_full = members.size >= 0.4 * (span + 1)
        if is_full and p_chance < (best[2] if best else P_FALSE_COMB):
            best = (members, numbers, p_chance)
    return best


def _teeth_of(
    frequencies_hz: FloatArray, tolerances_hz: FloatArray, spacing_hz: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]] | None:
    """Lines on the comb of this spacing that holds most of them, and their numbers."""
    numbers = np.rint((frequencies_hz[None, :] - frequencies_hz[:, None]) / spacing_hz)
    away = np.abs(frequencies_hz[None, :] - frequencies_hz[:, None] - numbers * spacing_hz)
    is_near = away < np.hypot(tolerances_hz[None, :], tolerances_hz[:, None])
    about = int(is_near.sum(axis=1).argmax())
    members = np.flatnonzero(is_near[about])
    if members.size < MIN_TEETH:
        return None
    # Sharpen the spacing by those found, and look again: an error grows with the number.
    offset_hz = float(frequencies_hz[about])
    for _ in range(3):
        slope, offset_hz = _straight(numbers[about][members], frequencies_hz[members])
        if slope <= 0.0:
            return None
        numbers[about] = np.rint((frequencies_hz - offset_hz) / slope)
        away = np.abs(frequencies_hz - offset_hz - slope * numbers[about])
        members = np.flatnonzero(away < tolerances_hz)
        if members.size < MIN_TEETH or np.ptp(numbers[about][members]) < MIN_TEETH - 1:
            return None
    return members, numbers[about][members].astype(np.int64)


def _straight(numbers: FloatArray, frequencies_hz: FloatArray) -> tuple[float, float]:
    slope, offset = np.polyfit(numbers, frequencies_hz, 1)
    return float(slope), float(offset)


def _comb(
    lines: tuple[Line, ...],
    places: NDArray[np.int64],
    numbers: NDArray[np.int64],
    p_chance: float,
) -> Comb:
    frequencies_hz = np.array([lines[place].frequency_hz.value for place in places])
    errors_hz = np.array([max(lines[p].frequency_hz.standard_error, 1e-9) for p in places])
    weights = 1.0 / np.square(errors_hz)
    mean = float(weights @ numbers / weights.sum())
    reach = float(weights @ np.square(numbers - mean))
    spacing_hz = float(weights @ ((numbers - mean) * frequencies_hz)) / reach
    middle_hz = float(weights @ frequencies_hz / weights.sum())
    # The tooth nearest to 0 Hz gets the number 0; the line through the teeth is followed there.
    at_zero_hz = middle_hz - mean * spacing_hz
    shift = round(at_zero_hz / spacing_hz)
    offset_error = math.sqrt(1.0 / float(weights.sum()) + (mean + shift) ** 2 / reach)
    return Comb(
        spacing_hz=Figure(spacing_hz, 1.0 / math.sqrt(reach)),
        offset_hz=Figure(at_zero_hz - shift * spacing_hz, offset_error),
        lines=tuple(int(place) for place in places),
        numbers=tuple(int(number) + shift for number in numbers),
        mains_hz=_mains_of(spacing_hz),
        p_chance=p_chance,
    )


def _mains_of(spacing_hz: float) -> Literal[50, 60] | None:
    for mains_hz in (50, 60):
        for multiple in (1, 2):
            nominal_hz = mains_hz * multiple
            if abs(spacing_hz - nominal_hz) < MAINS_TOLERANCE * nominal_hz:
                return 60 if mains_hz == 60 else 50
    return None
