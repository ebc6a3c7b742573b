"""What fills much of the passband and is no impulse: the steady floor, and what moves above it."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.ndimage

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.features.floor import SMOOTH_BINS, FloorCurve
from solidcopy.noise.features.lines import Line
from solidcopy.noise.parts.narrow import Transform, kept_moments, narrow_signal
from solidcopy.noise.parts.narrowband import Claim

CLEAR_OF_LINE_HZ = 45.0
"""Bins of the floor curve so close to a line hold some of it."""
MOVING_SHARE = 0.03
"""So much of the broad power must move before it is more than floor."""
MOVING_ERRORS = 5.0
STRONG_SHARE = 0.15
"""Where what moves is stronger than this beside the weakest moments, it has its band."""
LIMITED_SHARE = 0.5
"""What moves in less of the passband is a signal with a band of its own."""
EVEN_RATIO = 1.1
SKIRT_RATIO = 0.25
"""Bins 6 dB below the others lie in the passband's skirts."""
MODULATION_RATE_HZ = 40.0
SWOLLEN_RATIO = 1.5
SWOLLEN_TIME = 0.15
"""Speech lifts the amplitude by half for so much of the time; impulses do not."""
SYLLABLES_HZ = (1.5, 9.0)
FASTER_HZ = (12.0, 19.0)
SYLLABIC_RATIO = 2.0
"""Modulation by syllables is so much stronger than what is faster."""


@dataclass(frozen=True, slots=True)
class Broad:
    """Broad power of a recording, impulses, lines and humps taken off."""

    floor_power: float
    floor_error: float
    """Standard deviation."""
    moving_power: float
    """Above the weakest moments; 0 where the floor is steady."""
    moving_band_hz: tuple[float, float]


def measure_broad(
    curve: FloorCurve,
    densities: FloatArray,
    passband_hz: tuple[float, float],
    *,
    lines: tuple[Line, ...],
    claims: tuple[Claim, ...],
) -> Broad:
    """Part the broad power into what is always there and what comes and goes.

    Args:
        curve: density of the weakest moments.
        densities: (n_bins,) of the bins of `curve`: the mean over the whole recording, without
            lines, humps and impulses.
    Source: derived here: in steady Gaussian noise both are the same but for chance.
    """
    frequencies_hz = curve.frequencies_hz
    inside = (frequencies_hz >= passband_hz[0]) & (frequencies_hz <= passband_hz[1])
    total = float(densities[inside].sum()) * curve.bin_hz
    clear = inside & _is_clear(curve, passband_hz, lines, claims)
    n_clear = int(clear.sum())
    relative = curve.relative_error * math.sqrt(1.94 / max(n_clear, 1))
    error = total * relative
    nothing = Broad(total, error, 0.0, passband_hz)
    if n_clear < 8:
        return nothing
    excess = densities[clear] - curve.densities[clear]
    strong = _strong(excess, curve.densities[clear], curve.relative_error)
    if strong.any() and float(strong.mean()) < LIMITED_SHARE and int((~strong).sum()) >= 8:
        # A signal that hardly pauses lifts even the weakest moments: the floor is taken to be no
        # more than 0.4 dB above where it is lowest beside the signal.
        level = EVEN_RATIO * _low_level(curve.densities[clear][~strong])
        excess = densities[clear] - np.minimum(curve.densities[clear], level)
    share = float(excess.sum()) / float(densities[clear].sum())
    if share < max(MOVING_SHARE, MOVING_ERRORS * relative):
        return nothing
    moving = float(excess.sum()) * curve.bin_hz
    places = np.flatnonzero(clear)[strong] if strong.any() else np.flatnonzero(clear)
    band_hz = (float(frequencies_hz[places[0]]), float(frequencies_hz[places[-1]]))
    return Broad(total - moving, error, moving, band_hz)


def _is_clear(
    curve: FloorCurve,
    passband_hz: tuple[float, float],
    lines: tuple[Line, ...],
    claims: tuple[Claim, ...],
) -> np.ndarray:
    """(n_bins,) bins that hold nothing of lines, claims or the edges of the passband."""
    frequencies_hz = curve.frequencies_hz
    # At both ends of the passband the coarse bins of the curve smear its edges.
    edge = 2.0 * curve.bin_hz
    clear = (frequencies_hz > passband_hz[0] + edge) & (frequencies_hz < passband_hz[1] - edge)
    for line in lines:
        clear &= np.abs(frequencies_hz - line.frequency_hz.value) > CLEAR_OF_LINE_HZ
    for claim in claims:
        clear &= (frequencies_hz < claim.band_hz[0]) | (frequencies_hz > claim.band_hz[1])
    return np.asarray(clear)


def _strong(excess: FloatArray, floor: FloatArray, relative_error: float) -> np.ndarray:
    """(n_bins,) where what moves is strong beside the weakest moments, and is no chance."""
    excess = scipy.ndimage.uniform_filter1d(excess, SMOOTH_BINS, mode="nearest")
    chance = MOVING_ERRORS * relative_error * math.sqrt(1.94 / SMOOTH_BINS)
    least = np.maximum(0.1 * float(np.quantile(excess, 0.95)), max(STRONG_SHARE, chance) * floor)
    return np.asarray((excess > least) & _is_top(floor))


def _low_level(densities: FloatArray) -> float:
    """Where the floor is low, but for the skirts of the passband."""
    return float(np.quantile(densities[_is_top(densities)], 0.25))


def _is_top(densities: FloatArray) -> np.ndarray:
    """(n_bins,) but for the skirts, where what is cut out elsewhere in the band leaks to."""
    return np.asarray(densities > SKIRT_RATIO * float(np.quantile(densities, 0.75)))


def is_syllabic(transform: Transform, band_hz: tuple[float, float]) -> bool:
    """Whether the power of a band swells as often as syllables come.

    Source: running speech swells most at 3 to 4 a second (from memory, unchecked); compared with
        12 to 19 a second, where noise swells just as much.
    """
    signal, rate_hz = narrow_signal(transform, *band_hz)
    n_block = max(1, round(rate_hz / MODULATION_RATE_HZ))
    n_blocks = signal.size // n_block
    if n_blocks < 4 * MODULATION_RATE_HZ:
        return False
    powers = np.square(signal.real) + np.square(signal.imag)
    blocks = np.sqrt(powers[: n_blocks * n_block].reshape(n_blocks, -1).mean(axis=1))
    # Gaps that impulses left come in step with these, and are bridged.
    kept = kept_moments(transform, signal.size, 1.0 / (band_hz[1] - band_hz[0]))
    is_whole = kept[: n_blocks * n_block].reshape(n_blocks, -1).all(axis=1)
    if is_whole.any():
        blocks = np.interp(np.arange(n_blocks), np.flatnonzero(is_whole), blocks[is_whole])
    quiet = float(np.quantile(blocks, 0.2))
    if float((blocks > SWOLLEN_RATIO * quiet).mean()) < SWOLLEN_TIME:
        return False
    spectrum = np.square(np.abs(scipy.fft.rfft(blocks - blocks.mean())))
    step_hz = rate_hz / n_block / n_blocks
    return _mean_between(spectrum, step_hz, SYLLABLES_HZ) > SYLLABIC_RATIO * _mean_between(
        spectrum, step_hz, FASTER_HZ
    )


def _mean_between(spectrum: FloatArray, step_hz: float, band_hz: tuple[float, float]) -> float:
    first, last = math.ceil(band_hz[0] / step_hz), math.floor(band_hz[1] / step_hz)
    return float(spectrum[first : last + 1].mean())
