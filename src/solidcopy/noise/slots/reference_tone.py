"""A tone of known frequency in a recording tells how fast the recorder ran."""

import math

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from solidcopy import units
from solidcopy.noise.slots.grid import CONFIDENCE, Figure

REACH = 0.003
"""Part of the frequency within which the tone is looked for, beside each gross ratio of rates."""
LEAST_ABOVE_FLOOR_DB = 20.0
MAX_HEARD_S = 120.0
N_PIECES = 12
"""Stretches whose phases are compared."""


def measure_tone_hz(
    samples: NDArray[np.float32], *, sample_rate_hz: int, near_hz: float
) -> tuple[Figure, float] | None:
    """Frequency of the strongest line near one.

    Args:
        samples: (n,) audio.
        sample_rate_hz: of the samples.
        near_hz: looked for within `REACH` of it, at least 2 Hz.
    Returns: the frequency in Hz with its interval, and its level over the floor in dB; None if no
        line stands out there.
    Source: slope of the phase over pieces, least squares; derived here.
    """
    samples = samples[: round(MAX_HEARD_S * sample_rate_hz)]
    window = np.hanning(samples.size)
    powers = np.abs(np.fft.rfft(samples * window)) ** 2
    bin_hz = sample_rate_hz / samples.size
    reach_hz = max(REACH * near_hz, 2.0)
    low, high = round((near_hz - reach_hz) / bin_hz), round((near_hz + reach_hz) / bin_hz) + 1
    if low < 1 or high > powers.size or high - low < 16:
        return None
    peak = low + int(powers[low:high].argmax())
    floor = float(np.median(powers[max(low - (high - low), 1) : high + (high - low)]))
    over_db = units.db_from_ratio(float(powers[peak]) / max(floor, 1e-300) * math.log(2.0))
    if over_db < LEAST_ABOVE_FLOOR_DB:
        return None
    return _sharpened(samples, sample_rate_hz, peak * bin_hz), over_db


def _sharpened(samples: NDArray[np.float32], sample_rate_hz: int, first_hz: float) -> Figure:
    """Line through the phases of pieces."""
    n_piece = samples.size // N_PIECES
    time_s = np.arange(n_piece * N_PIECES) / sample_rate_hz
    turned = samples[: time_s.size] * np.exp(-2j * np.pi * first_hz * time_s)
    weights = np.hanning(n_piece)
    pieces = turned.reshape(N_PIECES, n_piece) @ weights
    phases = np.unwrap(np.angle(pieces)) / (2.0 * np.pi)
    middles_s = (np.arange(N_PIECES) + 0.5) * n_piece / sample_rate_hz
    line = stats.linregress(middles_s, phases)
    half_hz = float(line.stderr) * float(stats.t.ppf(0.5 + CONFIDENCE / 2.0, N_PIECES - 2))
    value_hz = first_hz + float(line.slope)
    return Figure(value_hz, value_hz - half_hz, value_hz + half_hz)
