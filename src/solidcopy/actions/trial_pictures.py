"""What a slot looks like, as numbers: over time and frequency, as a spectrum, as a waveform."""

import base64
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.actions.served import served
from solidcopy.modes.mode import ModeFacts
from solidcopy.reports.samples import HIGHEST_HZ, WINDOW_S
from solidcopy.signals.spectrogram import power_densities
from solidcopy.signals.waveform import Waveform

N_COLUMNS = 250
POOLED_BINS = 2
NEAR_WINDOW_SYMBOLS = 1.5
"""A window (Hann) of so many symbols tells neighbouring tones apart, and symbols too."""
NEAR_WIDTHS = 1.5
"""The near picture reaches so many widths of the mode below and above the signal."""
FLOOR_DB, SPAN_DB, MOST_SPAN_DB = 3.0, 30.0, 60.0
"""The palest shade lies so far above the usual cell: most of plain noise stays white."""
N_SHADES = 255
N_STEPS = 600
"""Of the waveform."""
FLAT_STEPS = 1e-5
"""Samples this close to the slot's own peak, relative, stand at it."""
MIN_FLAT_RUN = 2
MOST_MARKS = 400


@served
@dataclass(frozen=True, slots=True)
class Picture:
    """Power over time and frequency."""

    levels: str
    """Base64 of one byte for each cell, row by row, the highest frequency first: 0 is
    `lowest_db` or less, 255 `highest_db` or more."""
    n_times: int
    n_frequencies: int
    from_s: float
    """Edges of the picture."""
    to_s: float
    low_hz: float
    high_hz: float
    lowest_db: float
    """dBFS in 1 Hz."""
    highest_db: float


@served
@dataclass(frozen=True, slots=True)
class WaveformShape:
    """The waveform in steps."""

    step_s: float
    lowest: tuple[float, ...]
    """Of full scale, in each step."""
    highest: tuple[float, ...]
    clipped_s: tuple[float, ...]
    """Steps in which samples pass full scale."""
    flat_s: tuple[float, ...]
    """Steps in which two samples or more in a row stand at the slot's own highest or lowest
    value: cut off by the receiver's chain."""


@dataclass(frozen=True, slots=True)
class Shades:
    """Levels of the darkest and of the brightest shade, dBFS in 1 Hz."""

    lowest_db: float
    highest_db: float

    @classmethod
    def of(cls, waveform: Waveform) -> "Shades":
        """Fitting a slot: from above its usual cell to its strongest, if that is near."""
        levels = _levels(_wide_cells(waveform))
        usual, strongest = float(np.median(levels)), float(levels.max())
        lowest = max(usual + FLOOR_DB, strongest - MOST_SPAN_DB)
        return cls(lowest, max(min(strongest, lowest + SPAN_DB), lowest + 10.0))


def wide_picture(waveform: Waveform, shades: Shades) -> Picture:
    """The whole slot up to 3 kHz."""
    cells = _wide_cells(waveform)
    high_hz = cells.shape[1] * POOLED_BINS / WINDOW_S
    hop_s = _hop(waveform) / waveform.sample_rate_hz
    # Cells are centred on their bins; the lowest begins half a bin below 0 Hz.
    low_hz = -0.5 / WINDOW_S
    return _picture(cells, (-hop_s / 2.0, hop_s), (low_hz, low_hz + high_hz), shades)


def near_picture(waveform: Waveform, shades: Shades, facts: ModeFacts, audio_hz: float) -> Picture:
    """The surroundings of the wanted signal, fine enough for its tones and symbols.

    Args:
        waveform: one slot.
        shades: as of the wide picture.
        facts: of the mode.
        audio_hz: of the lowest tone.
    """
    rate_hz = waveform.sample_rate_hz
    n_window = round(NEAR_WINDOW_SYMBOLS * facts.symbol_s * rate_hz)
    n_hop = round(facts.symbol_s / 4.0 * rate_hz)
    n_transform = round(2.0 * facts.symbol_s * rate_hz)
    densities = power_densities(
        _padded(waveform, n_window),
        sample_rate_hz=rate_hz,
        n_window=n_window,
        n_hop=n_hop,
        n_transform=n_transform,
    )
    bin_hz = rate_hz / n_transform
    margin_hz = NEAR_WIDTHS * facts.width_hz
    first = max(math.floor((audio_hz - margin_hz) / bin_hz), 0)
    last = min(math.ceil((audio_hz + facts.width_hz + margin_hz) / bin_hz), densities.shape[1] - 1)
    band_hz = ((first - 0.5) * bin_hz, (last + 0.5) * bin_hz)
    hop_s = n_hop / rate_hz
    return _picture(densities[:, first : last + 1], (-hop_s / 2.0, hop_s), band_hz, shades)


def waveform_shape(waveform: Waveform) -> WaveformShape:
    """Lowest and highest sample of each step, and where it is clipped."""
    samples = waveform.samples
    n_step = math.ceil(samples.size / N_STEPS)
    padded = np.pad(samples, (0, -samples.size % n_step), mode="edge").reshape(-1, n_step)
    step_s = n_step / waveform.sample_rate_hz
    return WaveformShape(
        step_s=step_s,
        lowest=_rounded(padded.min(axis=1)),
        highest=_rounded(padded.max(axis=1)),
        clipped_s=_steps_with(np.abs(samples) > 1.0, n_step, step_s),
        flat_s=_steps_with(_is_flat(samples) | _is_flat(-samples), n_step, step_s),
    )


def _is_flat(samples: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Samples in a row that stand at the highest value."""
    highest = float(samples.max(initial=0.0))
    is_at = (samples >= highest * (1.0 - FLAT_STEPS)) & (samples > 0.0)
    run = is_at.copy()
    run[1:] &= is_at[:-1]
    found: NDArray[np.bool_] = run.copy()
    found[:-1] |= run[1:]
    return found


def _steps_with(marks: NDArray[np.bool_], n_step: int, step_s: float) -> tuple[float, ...]:
    steps = np.unique(np.flatnonzero(marks) // n_step)[:MOST_MARKS]
    return tuple(round(float(step + 0.5) * step_s, 4) for step in steps)


def _rounded(values: NDArray[np.float32]) -> tuple[float, ...]:
    return tuple(round(float(value), 4) for value in values)


def _padded(waveform: Waveform, n_window: int) -> NDArray[np.float32]:
    """With silence around, so that windows are centred on the samples from the first to the
    last."""
    return np.pad(waveform.samples, (n_window // 2, n_window - n_window // 2))


def _hop(waveform: Waveform) -> int:
    return round(waveform.samples.size / N_COLUMNS)


def _wide_cells(waveform: Waveform) -> NDArray[np.float64]:
    """(n_times, n_frequencies) densities, pooled to what a page can show."""
    n_window = round(WINDOW_S * waveform.sample_rate_hz)
    densities = power_densities(
        _padded(waveform, n_window),
        sample_rate_hz=waveform.sample_rate_hz,
        n_window=n_window,
        n_hop=_hop(waveform),
    )
    n_rows = int(HIGHEST_HZ * WINDOW_S) // POOLED_BINS
    kept = densities[:, : n_rows * POOLED_BINS]
    pooled: NDArray[np.float64] = kept.reshape(kept.shape[0], n_rows, POOLED_BINS).mean(axis=2)
    return pooled


def _levels(densities: NDArray[np.float64]) -> NDArray[np.float64]:
    return units.dbfs_from_powers(np.maximum(densities, 1e-30))


def _picture(
    densities: NDArray[np.float64],
    times_s: tuple[float, float],
    band_hz: tuple[float, float],
    shades: Shades,
) -> Picture:
    """Args: densities (n_times, n_frequencies); first edge and step in time; edges in frequency."""
    span_db = shades.highest_db - shades.lowest_db
    shade = (_levels(densities) - shades.lowest_db) / span_db * N_SHADES
    rows = np.clip(np.rint(shade), 0, N_SHADES).astype(np.uint8).T[::-1]
    first_s, step_s = times_s
    return Picture(
        levels=base64.b64encode(np.ascontiguousarray(rows).tobytes()).decode("ascii"),
        n_times=rows.shape[1],
        n_frequencies=rows.shape[0],
        from_s=first_s,
        to_s=first_s + step_s * rows.shape[1],
        low_hz=band_hz[0],
        high_hz=band_hz[1],
        lowest_db=shades.lowest_db,
        highest_db=shades.highest_db,
    )
