"""What is compared of one recording: powers and impulses, stretch by stretch."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.features.floor import find_passband, measure_floor_curve
from solidcopy.noise.features.measure import measure_features
from solidcopy.noise.features.spectrum import segment_powers
from solidcopy.signals.waveform import Waveform

STRETCH_S = 1.0
"""Powers are taken of segments of so long, half overlapping."""
LONG_STRETCH_S = 2.5
"""The floor, and impulses, are taken of stretches of so long."""


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """One recording over time."""

    whole: FloatArray
    """(n_segments,) mean squares without the constant offset."""
    bands: FloatArray
    """(n_bands, n_segments) power in each band; the first is the band of the answer."""
    floors: FloatArray | CannotTell
    """(n_stretches,) power in that band of the weakest fifth of the moments, put right for Gaussian
    noise. Many impulses leave few quiet moments and raise it."""
    impulse_counts: FloatArray | CannotTell
    """(n_stretches,) impulses a minute."""
    impulse_powers: FloatArray
    """(n_stretches,) their mean power over the stretch; empty if there are none to tell."""


def passband_of(waveform: Waveform) -> tuple[float, float] | None:
    """Where the noise floor keeps its level within 20 dB; None for silence or too short a sound."""
    samples = waveform.samples
    curve = measure_floor_curve(
        samples,
        sample_rate_hz=float(waveform.sample_rate_hz),
        mean=float(samples.mean(dtype=np.float64)),
    )
    return None if isinstance(curve, CannotTell) else find_passband(curve)


def course_of(waveform: Waveform, bands_hz: Sequence[tuple[float, float]]) -> Course:
    """Powers of one recording, stretch by stretch.

    Args:
        waveform: one channel, some ten seconds or more.
        bands_hz: the first is the band of the answer.
    """
    rate_hz = float(waveform.sample_rate_hz)
    mean = float(waveform.samples.mean(dtype=np.float64))
    n_segment = 2 * round(STRETCH_S * rate_hz / 2.0)
    bin_hz = rate_hz / n_segment
    rows = []
    for powers in segment_powers(waveform.samples, n_segment, mean=mean):
        within = [_between(powers, band_hz, bin_hz) for band_hz in bands_hz]
        rows.append(np.stack([powers.sum(axis=1), *within]) / n_segment)
    shares = np.concatenate(rows, axis=1)
    counts, strengths = _impulses(waveform)
    return Course(
        whole=shares[0],
        bands=shares[1:],
        floors=_floors(waveform, mean, bands_hz[0]),
        impulse_counts=counts,
        impulse_powers=strengths,
    )


def _between(powers: FloatArray, band_hz: tuple[float, float], bin_hz: float) -> FloatArray:
    """Sums of the bins whose centres lie from the lower edge up to, but without, the upper one."""
    first, end = (int(np.ceil(edge_hz / bin_hz)) for edge_hz in band_hz)
    return np.asarray(powers[:, first:end].sum(axis=1))


def _floors(
    waveform: Waveform, mean: float, band_hz: tuple[float, float]
) -> FloatArray | CannotTell:
    floors = []
    for part in _stretches(waveform.samples, waveform.sample_rate_hz):
        curve = measure_floor_curve(part, sample_rate_hz=float(waveform.sample_rate_hz), mean=mean)
        if isinstance(curve, CannotTell):
            return curve
        inside = _between(curve.densities[None, :], band_hz, curve.bin_hz)
        floors.append(float(inside[0]) * curve.bin_hz)
    return np.array(floors)


def _stretches(samples: np.ndarray, sample_rate_hz: int) -> list[np.ndarray]:
    n_long = round(LONG_STRETCH_S * sample_rate_hz)
    ends = range(0, samples.size - n_long + 1, n_long)
    return [samples[first : first + n_long] for first in ends]


def _impulses(waveform: Waveform) -> tuple[FloatArray | CannotTell, FloatArray]:
    found = measure_features(waveform, impulse_trains=False).impulses
    if isinstance(found, CannotTell):
        return found, np.zeros(0)
    n_stretches = int(waveform.duration_s // LONG_STRETCH_S)
    place = (found.times_s // LONG_STRETCH_S).astype(np.int64)
    is_whole = place < n_stretches
    counts = np.bincount(place[is_whole], minlength=n_stretches)
    energies = np.bincount(place[is_whole], found.energies[is_whole], minlength=n_stretches)
    per_minute = np.asarray(counts * (60.0 / LONG_STRETCH_S), np.float64)
    return per_minute, energies / LONG_STRETCH_S


def parts_of_band(band_hz: tuple[float, float], n_parts: int) -> list[tuple[float, float]]:
    """Equal parts of a band, low to high."""
    return list(pairwise(np.linspace(*band_hz, n_parts + 1).tolist()))
