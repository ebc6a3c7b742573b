"""From the starts of transmissions to the grid of slots: where it begins, how fast it runs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from solidcopy.noise.slots.listen import Heard

REACH_S = 1.25
"""Transmissions further from the common grid than this are not of it."""
SAME_STATION_HZ = 3.0
"""Closer than this, transmissions of several slots are taken for one station's."""
TWO_STATIONS_S = 0.03
"""Odd and even slots of one frequency that lie further apart are two stations taking turns."""
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Figure:
    """A measured number with its 95 % interval."""

    value: float
    low: float
    high: float

    def shifted(self, offset: float) -> "Figure":
        """The same with something known added."""
        return Figure(self.value + offset, self.low + offset, self.high + offset)


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """What the starts say of the slots."""

    first_edge: Figure
    """Seconds from the start of the recording to the first whole slot."""
    is_one_clock: bool
    """The offset rests on the clock of one or two stations, however narrow its interval."""
    rate_error_ppm: Figure | None
    """Of the recorder's sample rate over the rate assumed; None: too few to tell."""
    slot_numbers: NDArray[np.int64]
    """(n,) of each transmission, from 0; those off the grid have none and are left out."""
    residuals_s: NDArray[np.float64]
    """(n,) of each transmission, after its station's own offset and the common rate."""
    stations: NDArray[np.int64]
    """(n,) number of its station, from 0."""
    members: NDArray[np.int64]
    """(n,) which of the given transmissions these are."""


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Slot edges by single transmissions; all (n,)."""

    late_s: NDArray[np.float64]
    """From the start of the recording, less whole slots."""
    numbers: NDArray[np.int64]
    """Those whole slots."""
    stations: NDArray[np.int64]
    spreads_s: NDArray[np.float64]
    """Standard deviations by noise."""
    members: NDArray[np.int64]
    """Which of the given transmissions these are."""


def common_edge_s(heard: Sequence[Heard], *, slot_s: float, nominal_start_s: float) -> float:
    """Edge modulo the slot around which most transmissions lie (0 <= edge < slot)."""
    edges = np.array([item.start_s - nominal_start_s for item in heard])
    apart = _wrapped(edges[:, None] - edges[None, :], slot_s)
    n_near = np.count_nonzero(np.abs(apart) < REACH_S, axis=0)
    best = int(n_near.argmax())
    near = apart[:, best][np.abs(apart[:, best]) < REACH_S]
    return float((edges[best] + np.median(near)) % slot_s)


def fit_grid(heard: Sequence[Heard], *, slot_s: float, nominal_start_s: float) -> Grid:
    """The grid of slots.

    Each station has a clock of its own, so only the drift within stations tells the rate, and only
    the mean over stations the offset.

    Args:
        heard: at least one.
        slot_s, nominal_start_s: the mode's.
    Source: least squares with an offset for each station; intervals of Student's t, derived here.
    """
    edge_s = common_edge_s(heard, slot_s=slot_s, nominal_start_s=nominal_start_s)
    edges = np.array([item.start_s - nominal_start_s for item in heard])
    members = np.flatnonzero(np.abs(_wrapped(edges - edge_s, slot_s)) < REACH_S)
    numbers = np.rint((edges[members] - edge_s) / slot_s).astype(np.int64)
    late_s = edges[members] - numbers * slot_s
    audio_hz = np.array([item.audio_hz for item in heard])[members]
    spreads_s = np.array([item.spread_s for item in heard])[members]
    stations = _stations(audio_hz, numbers, late_s)
    return solved(Edges(late_s, numbers, stations, spreads_s, members), slot_s=slot_s)


def solved(edges: Edges, *, slot_s: float) -> Grid:
    """The grid from edges whose slots and stations are known."""
    late_s, numbers, stations = edges.late_s, edges.numbers, edges.stations
    members, spreads_s = edges.members, edges.spreads_s
    n_stations = int(stations.max()) + 1
    time_s = numbers * slot_s
    design = np.zeros((members.size, n_stations))
    design[np.arange(members.size), stations] = 1.0
    has_drift = _has_drift(stations, numbers)
    if has_drift:
        design = np.column_stack([design, time_s])
    found = np.asarray(np.linalg.lstsq(design, late_s, rcond=None)[0], np.float64)
    residuals_s = late_s - design @ found
    dof = members.size - design.shape[1]
    variance = max(
        float(residuals_s @ residuals_s) / dof if dof > 0 else 0.0,
        float(np.mean(np.minimum(spreads_s, 1.0) ** 2)),
    )
    covariance = np.asarray(variance * np.linalg.pinv(design.T @ design), np.float64)
    return Grid(
        first_edge=_first_edge(found[:n_stations], covariance[:n_stations, :n_stations], dof),
        is_one_clock=n_stations < 3,
        rate_error_ppm=_rate(found, covariance, dof) if has_drift and dof > 0 else None,
        slot_numbers=numbers,
        residuals_s=residuals_s,
        stations=stations,
        members=members,
    )


def _first_edge(
    offsets_s: NDArray[np.float64], covariance: NDArray[np.float64], dof: int
) -> Figure:
    """Mean over stations; from three on, how they scatter says how sure that is."""
    n_stations = offsets_s.size
    value = float(offsets_s.mean())
    noise_s = math.sqrt(float(covariance.sum())) / n_stations
    half_s = noise_s * _quantile(max(dof, 2))
    if n_stations >= 3:
        scatter_s = float(offsets_s.std(ddof=1)) / math.sqrt(n_stations)
        half_s = max(half_s, scatter_s * _quantile(n_stations - 1))
    return Figure(value, value - half_s, value + half_s)


def _rate(found: NDArray[np.float64], covariance: NDArray[np.float64], dof: int) -> Figure:
    value = 1e6 * float(found[-1])
    half = 1e6 * math.sqrt(float(covariance[-1, -1])) * _quantile(dof)
    return Figure(value, value - half, value + half)


def _quantile(dof: int) -> float:
    return float(stats.t.ppf(0.5 + CONFIDENCE / 2.0, dof))


def _wrapped(apart_s: NDArray[np.float64], slot_s: float) -> NDArray[np.float64]:
    return np.asarray((apart_s + slot_s / 2.0) % slot_s - slot_s / 2.0)


def _has_drift(stations: NDArray[np.int64], numbers: NDArray[np.int64]) -> bool:
    """Whether any station was heard in two slots."""
    return any(np.unique(numbers[stations == one]).size > 1 for one in np.unique(stations))


def _stations(
    audio_hz: NDArray[np.float64], numbers: NDArray[np.int64], late_s: NDArray[np.float64]
) -> NDArray[np.int64]:
    """(n,) a number for each station: one frequency, and one half of the slots if they differ."""
    order = np.argsort(audio_hz, kind="stable")
    steps = np.diff(audio_hz[order]) > SAME_STATION_HZ
    by_frequency = np.empty(audio_hz.size, np.int64)
    by_frequency[order] = np.concatenate([[0], np.cumsum(steps)])
    stations = np.empty(audio_hz.size, np.int64)
    n_found = 0
    for one in np.unique(by_frequency):
        inside = np.flatnonzero(by_frequency == one)
        halves = [inside[numbers[inside] % 2 == parity] for parity in (0, 1)]
        is_two = all(half.size for half in halves) and (
            abs(late_s[halves[0]].mean() - late_s[halves[1]].mean()) > TWO_STATIONS_S
        )
        for group in halves if is_two else [inside]:
            stations[group] = n_found
            n_found += 1
    return stations
