"""The floor of a recording, looked at with its lines taken out and between its impulses.

The weakest fifth of moments of 50 ms is a good floor where lines are few and impulses rarer than
such moments. A dense comb leaves no such moment free, nor do twenty impulses a second. So lines are
filled with the noise beside them first, and the level is held against that of the weakest quarter
of single moments of the envelope, which sees between impulses.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.features.floor import (
    Floor,
    FloorCurve,
    find_passband,
    measure_floor_curve,
    summarise_floor,
)
from solidcopy.noise.features.lines import Line, find_lines, find_surroundings
from solidcopy.noise.features.measure import segment_length_s
from solidcopy.noise.features.spectrum import Spectrum, measure_spectrum
from solidcopy.signals.amplitude_distribution import envelope
from solidcopy.signals.band_noise import skirted_amplitude
from solidcopy.signals.filters import Band
from solidcopy.signals.power import AnySamples

PIECE_S = 60.0
"""Lines are taken out of pieces so long: a whole hour would not fit the memory."""
LEAST_REACH_HZ = 2.0
REACH_BINS = 2.5
"""A line's main lobe in the spectrum in which it was found, and a little."""
SKIRT_SHARE = 0.1
"""Of the passband: skirts of the band whose envelope is looked at, soft enough not to ring long."""
WEAKEST = (0.25, 0.5)
"""Shares of the time, of whose levels the floor is read."""
MOST_STRONGER = 0.45
BETWEEN_IMPULSES = 0.985
"""Envelope over weakest moments: below this the moments of 50 ms are not free of impulses. Of
Gaussian noise it is 1 within 2 % or so."""


@dataclass(frozen=True, slots=True, eq=False)
class Quiet:
    """What is left between everything else."""

    floor: Floor
    curve: FloorCurve
    """Of the recording without its lines."""


def quiet_floor(samples: AnySamples, sample_rate_hz: float) -> Quiet | CannotTell:
    """Floor of a recording.

    Args:
        samples: (n_samples,) real; not changed.
    Returns: CannotTell for fewer than half a second, or for silence.
    """
    mean = float(np.mean(samples, dtype=np.float64))
    curve = measure_floor_curve(samples, sample_rate_hz=sample_rate_hz, mean=mean)
    if isinstance(curve, CannotTell):
        return curve
    passband_hz = find_passband(curve)
    if passband_hz is None:
        return CannotTell("nothing is heard during a fifth of the time")
    spectrum = measure_spectrum(
        samples,
        sample_rate_hz=sample_rate_hz,
        segment_s=segment_length_s(samples.size / sample_rate_hz),
        mean=mean,
    )
    lines = find_lines(spectrum, find_surroundings(spectrum, passband_hz), passband_hz)
    left = without_lines(samples, lines, spectrum, sample_rate_hz) if lines else samples
    if lines:
        again = measure_floor_curve(left, sample_rate_hz=sample_rate_hz, mean=mean)
        assert isinstance(again, FloorCurve)  # as long as the first
        curve = again
        passband_hz = find_passband(curve) or passband_hz
    share = _between_impulses(left, curve, passband_hz, sample_rate_hz)
    if share < BETWEEN_IMPULSES:
        curve = replace(curve, densities=share * curve.densities)
    return Quiet(summarise_floor(curve, passband_hz), curve)


def without_lines(
    samples: AnySamples, lines: tuple[Line, ...], spectrum: Spectrum, sample_rate_hz: float
) -> NDArray[np.float32]:
    """The samples with each line's bins replaced by those beside it, (n_samples,) float32.

    Source: derived here: noise has independent bins of like strength, so a copy from twice the
        width away is noise of the same density.
    """
    n_pieces = max(1, round(samples.size / sample_rate_hz / PIECE_S))
    half_hz = max(LEAST_REACH_HZ, REACH_BINS * spectrum.bin_hz)
    frequencies_hz = np.sort([line.frequency_hz.value for line in lines])
    stretches = _joined(frequencies_hz - half_hz, frequencies_hz + half_hz)
    pieces = [
        _filled(piece.astype(np.float64), stretches, sample_rate_hz)
        for piece in np.array_split(samples, n_pieces)
    ]
    return np.concatenate(pieces).astype(np.float32)


def _joined(low_hz: FloatArray, high_hz: FloatArray) -> list[tuple[float, float]]:
    """Overlapping stretches made one."""
    stretches: list[tuple[float, float]] = []
    for low, high in zip(low_hz.tolist(), high_hz.tolist(), strict=True):
        if stretches and low <= stretches[-1][1]:
            stretches[-1] = (stretches[-1][0], high)
        else:
            stretches.append((low, high))
    return stretches


def _filled(
    piece: FloatArray, stretches: list[tuple[float, float]], sample_rate_hz: float
) -> FloatArray:
    transform = scipy.fft.rfft(piece)
    per_hz = piece.size / sample_rate_hz
    for place, (low_hz, high_hz) in enumerate(stretches):
        first, last = math.floor(low_hz * per_hz), math.ceil(high_hz * per_hz) + 1
        n_bins = last - first
        next_hz = stretches[place + 1][0] if place + 1 < len(stretches) else math.inf
        source = last if next_hz * per_hz > last + n_bins else first - n_bins
        if first < 0 or source < 0 or max(source, first) + n_bins > transform.size:
            transform[max(first, 0) : last] = 0.0
            continue
        transform[first:last] = transform[source : source + n_bins]
    return np.asarray(scipy.fft.irfft(transform, piece.size))


def _between_impulses(
    samples: AnySamples,
    curve: FloorCurve,
    passband_hz: tuple[float, float],
    sample_rate_hz: float,
) -> float:
    """Level between impulses by the envelope over that by the weakest moments of 50 ms."""
    skirt_hz = SKIRT_SHARE * (passband_hz[1] - passband_hz[0])
    band = Band(passband_hz[0] + skirt_hz, passband_hz[1] - skirt_hz, skirt_hz)
    response = np.square(skirted_amplitude(band, curve.frequencies_hz))
    by_moments = float(curve.densities @ response) * curve.bin_hz
    n_pieces = max(1, round(samples.size / sample_rate_hz / PIECE_S))
    levels = [
        _weakest(envelope(piece, sample_rate_hz=sample_rate_hz, band=band), sample_rate_hz)
        for piece in np.array_split(samples, n_pieces)
    ]
    by_envelope = float(np.mean(np.concatenate(levels))) / 2.0
    return by_envelope / by_moments if by_moments > 0.0 else 1.0


def _weakest(values: FloatArray, sample_rate_hz: float) -> FloatArray:
    """Mean square of the envelope second by second, by its weakest moments, (n_seconds,).

    Source: derived here: squares of a Gaussian noise's envelope are exponential. Where a share c of
        the moments is no floor but stronger, the quantile q of all is the quantile q / (1 - c) of
        the floor; c follows from the ratio of two quantiles.
    """
    n_blocks = max(1, round(values.size / sample_rate_hz))
    blocks = np.array(
        [np.quantile(np.square(block), WEAKEST) for block in np.array_split(values, n_blocks)]
    )
    low, high = np.mean(blocks, axis=0)
    shares = np.linspace(0.0, MOST_STRONGER, 201)
    quantiles = -np.log1p(-np.array(WEAKEST)[:, None] / (1.0 - shares))
    is_less = quantiles[1] / quantiles[0] <= high / low
    place = int(np.flatnonzero(is_less)[-1]) if is_less.any() else 0
    return np.asarray(blocks[:, 0] / quantiles[0, place])


def floor_edges_hz(
    curve: FloorCurve, passband_hz: tuple[float, float], base: float, down_db: float
) -> tuple[float, float]:
    """Where the floor has fallen by so much from its level, on both sides of its passband.

    Args:
        base: power per Hz inside the passband.
    """
    hz, densities = curve.frequencies_hz, curve.densities
    limit = base / units.ratio_from_db(down_db)
    is_above = densities >= limit
    first, last = np.searchsorted(hz, passband_hz)
    inside = np.flatnonzero(is_above[first : last + 1]) + first
    if inside.size == 0:
        return passband_hz
    low, high = int(inside[0]), int(inside[-1])
    return _crossing(hz, densities, (low - 1, low), limit), _crossing(
        hz, densities, (high + 1, high), limit
    )


def _crossing(
    hz: FloatArray, densities: FloatArray, places: tuple[int, int], limit: float
) -> float:
    """Between a bin below a limit and one above it, straight in the logarithm."""
    outer, inner = places
    if not 0 <= outer < hz.size or densities[outer] <= 0.0 or densities[outer] >= limit:
        return float(hz[inner])
    span = math.log(densities[inner] / densities[outer])
    share = math.log(densities[inner] / limit) / span if span > 0.0 else 0.0
    return float(hz[inner] + share * (hz[outer] - hz[inner]))
