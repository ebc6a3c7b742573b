"""From audio to one long spectrum and a grid of normalised cell powers.

Scale, held everywhere in this package: a cell is the mean over one symbol of the complex
baseband times a conjugate tone. A tone of power P on the cell's frequency makes |cell|^2 = P / 2,
noise of one-sided density N0 makes it N0 / (2 T) on average, with T the symbol length; so a
normalised cell power is 1 for noise and Es/N0 for a tone (derived here).
"""

from dataclasses import dataclass

import numpy as np
import scipy.fft
import soxr
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from solidcopy.modes.mode import ModeFacts
from solidcopy.signals.waveform import Waveform

WORK_RATE_HZ = 12000
EXTRA_S = 1.0
"""Audio kept after the slot's end: a late transmission may end there."""
ROWS_PER_SYMBOL = 4
COLUMNS_PER_TONE = 2
FLOOR_ROW_STEP = 6
"""Every sixth row is enough for a median over time and shares no audio with the next one."""
LEVEL_COLUMN_STEP = 2 * COLUMNS_PER_TONE
"""Columns of every second tone step are enough for a median over frequency."""
FLOOR_SPAN_WIDTHS = 6
"""Width of the running median across frequency, in widths of the mode (FT8: 300 Hz): wider than
two transmissions, so it passes over one transmission or a carrier, and narrow enough to follow a
receiver's passband."""
N_AVERAGED_COLUMNS = 9
"""Columns averaged first, since a median over uneven values leans to the louder side."""
CARRIER_FACTOR = 2.0
"""A column whose median over time exceeds its neighbours' by this factor holds a carrier."""
LOUD_LEVEL = 1.5
"""A row whose noise exceeds the usual by less counts as usual. The median over 220 columns
deviates by 10 %, so steady noise is left alone."""
SMALLEST_FLOOR = 3e-9
"""Least floor relative to the strongest cell: for audio without any noise."""
SILENT_SHARE = 1e-7
"""A row below this share of the mean row power holds no audio (digital silence)."""


@dataclass(frozen=True, slots=True, eq=False)
class LongSpectrum:
    """Spectrum of the slot and `EXTRA_S` after it, zero-filled to that length."""

    bins: NDArray[np.complex64]
    """(n_bins,) one-sided, scaled so that a sum of bins is an amplitude of analytic samples."""
    bin_hz: float
    heard_s: float
    """Length of audio in it."""


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Cell powers over time and frequency, relative to the noise."""

    powers: NDArray[np.float32]
    """(n_rows, n_columns), 1 for noise."""
    floor: NDArray[np.float32]
    """(n_columns,) mean cell power of the noise, steady carriers left out."""
    levels: NDArray[np.float32]
    """(n_rows,) noise power over its usual value; 1 unless it is clearly louder."""
    row_s: float
    """Time from row to row; row 0 is a symbol that starts at the slot's edge."""
    column_hz: float
    first_hz: float
    """Frequency of column 0."""

    def floor_at(self, audio_hz: float) -> float:
        """Mean cell power of the noise around a frequency."""
        column = round((audio_hz - self.first_hz) / self.column_hz)
        return float(self.floor[min(max(column, 0), self.floor.size - 1)])


@dataclass(frozen=True, slots=True)
class GridShape:
    """Sizes of the band that a grid of cells is made from."""

    first_bin: int
    n_band: int
    """Bins taken, and complex samples that they make."""
    n_symbol: int
    """Samples of a symbol."""
    n_heard: int
    """Samples with audio."""
    n_columns: int


def work_samples(waveform: Waveform) -> NDArray[np.float32]:
    """(n,) float32 at `WORK_RATE_HZ`; samples that are not finite become 0."""
    samples = waveform.samples
    if not np.isfinite(samples).all():
        samples = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
    if waveform.sample_rate_hz == WORK_RATE_HZ or samples.size == 0:
        return samples
    resampled = soxr.resample(samples, waveform.sample_rate_hz, WORK_RATE_HZ, quality="HQ")
    return np.asarray(resampled, np.float32)


def long_spectrum(samples: NDArray[np.float32], facts: ModeFacts) -> LongSpectrum:
    """One transform of everything that can belong to the slot.

    Args:
        samples: (n_samples,) at `WORK_RATE_HZ`; what lies after the slot and `EXTRA_S` is not
            looked at.
        facts: the mode's.
    """
    n_frame = round((facts.slot_s + EXTRA_S) * WORK_RATE_HZ)
    heard = samples[:n_frame]
    bins = scipy.fft.rfft(heard, n_frame)
    bins *= np.float32(1.0 / n_frame)
    return LongSpectrum(bins, WORK_RATE_HZ / n_frame, heard.size / WORK_RATE_HZ)


def cell_grid(
    spectrum: LongSpectrum, facts: ModeFacts, *, low_hz: float, high_hz: float
) -> Cells | None:
    """Powers of windows of one symbol, four rows to a symbol and two columns to a tone step.

    Args:
        spectrum: from `long_spectrum`.
        facts: the mode's.
        low_hz, high_hz: lowest and highest frequency of a lowest tone.
    Returns: the grid, its columns starting at `low_hz`; None where there is nothing to hear.
    """
    shape = grid_shape(
        facts,
        bin_hz=spectrum.bin_hz,
        heard_s=spectrum.heard_s,
        low_hz=low_hz,
        high_hz=high_hz,
    )
    if shape.n_heard < shape.n_symbol:
        return None
    band = np.zeros(shape.n_band, np.complex64)
    taken = spectrum.bins[shape.first_bin : shape.first_bin + shape.n_band]
    band[: taken.size] = taken
    analytic = scipy.fft.ifft(band, norm="forward", overwrite_x=True)
    window = symbol_window(shape.n_symbol)
    padded = np.pad(analytic[: shape.n_heard], (window.size - shape.n_symbol) // 2)
    pieces = np.lib.stride_tricks.sliding_window_view(padded, window.size)
    pieces = pieces[:: shape.n_symbol // ROWS_PER_SYMBOL] * window
    n_transform = COLUMNS_PER_TONE * shape.n_symbol
    transforms = scipy.fft.fft(pieces, n_transform, axis=1, overwrite_x=True)
    transforms = transforms[:, : shape.n_columns]
    powers = np.square(transforms.real) + np.square(transforms.imag)
    powers *= np.float32(1.0 / (shape.n_symbol * float(window @ window)))
    return _normalised(powers, facts, first_hz=shape.first_bin * spectrum.bin_hz)


def grid_shape(
    facts: ModeFacts, *, bin_hz: float, heard_s: float, low_hz: float, high_hz: float
) -> GridShape:
    """Sizes that `cell_grid` works with, from the properties of its arguments."""
    width_hz = high_hz - low_hz + facts.width_hz + facts.tone_spacing_hz
    # Whole samples to a row, and small factors only, so that the transforms are quick.
    step_hz = 10 * ROWS_PER_SYMBOL / facts.symbol_s
    rate_hz = step_hz * float(np.ceil(width_hz / step_hz))
    n_band = round(rate_hz / bin_hz)
    return GridShape(
        first_bin=round(low_hz / bin_hz),
        n_band=n_band,
        n_symbol=round(rate_hz * facts.symbol_s),
        n_heard=min(n_band, int(heard_s * rate_hz)),
        n_columns=round(width_hz * facts.symbol_s * COLUMNS_PER_TONE),
    )


def symbol_window(n_symbol: int) -> NDArray[np.float32]:
    """A symbol's length flat in the middle, with raised-cosine edges that reach into neighbours.

    Three quarters of a symbol flat and a quarter of edge on either side: the signal-to-noise
    ratio of a cell is 0.1 dB below that of the bare symbol, but a loud carrier 100 Hz away leaks
    -77 dB of its power instead of -37 (computed from the window's transform).
    """
    n_edge = n_symbol // 4
    edge = 0.5 - 0.5 * np.cos(np.pi * (np.arange(n_edge) + 0.5) / n_edge)
    return np.concatenate([edge, np.ones(n_symbol - n_edge), edge[::-1]]).astype(np.float32)


def median_share(n_values: int) -> np.float32:
    """Expected median (the upper one) of exponential values over their mean.

    The k-th smallest of n exponential values is 1/n + 1/(n-1) + ... + 1/(n-k+1) of their mean on
    average (order statistics, textbook). Neither a tone that is elsewhere most of the time nor a
    station on few columns moves a median much.
    """
    return np.float32(np.sum(1.0 / np.arange(n_values - n_values // 2, n_values + 1)))


def _noise_means(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """(n_rows,) mean that noise of each row's median would have."""
    middle = rows.shape[1] // 2
    medians = np.partition(rows, middle, axis=1)[:, middle]
    return np.asarray(medians / median_share(rows.shape[1]))


def smooth_floor(
    means: NDArray[np.float32], facts: ModeFacts, *, highest_power: float
) -> NDArray[np.float32]:
    """(n_columns,) noise floor from the means of columns.

    Args:
        means: (n_columns,) mean power that each column's noise would have.
        facts: the mode's.
        highest_power: of all cells.
    """
    column_hz = facts.tone_spacing_hz / COLUMNS_PER_TONE
    n_span = 2 * round(FLOOR_SPAN_WIDTHS * facts.width_hz / column_hz / 2) + 1
    averaged = uniform_filter1d(means, N_AVERAGED_COLUMNS, mode="nearest")
    smooth = median_filter(averaged, n_span, mode="nearest")
    return np.maximum(smooth, SMALLEST_FLOOR * highest_power).astype(np.float32)


def _normalised(powers: NDArray[np.float32], facts: ModeFacts, *, first_hz: float) -> Cells | None:
    """Divide by the noise floor of every column and by the noise level of every row."""
    column_hz = facts.tone_spacing_hz / COLUMNS_PER_TONE
    row_powers = powers.mean(axis=1)
    is_silent = ~(row_powers > SILENT_SHARE * row_powers.mean())
    if is_silent.all():
        return None
    columns = np.ascontiguousarray(powers[~is_silent][::FLOOR_ROW_STEP].T)
    means = _noise_means(columns)
    floor = smooth_floor(means, facts, highest_power=float(np.max(powers)))
    # A carrier raises its own columns' median: divided by that it looks like noise.
    divisor = np.where(means > CARRIER_FACTOR * floor, means, floor)
    relative = np.asarray(powers / divisor, np.float32)
    levels = _noise_means(relative[:, ::LEVEL_COLUMN_STEP])
    is_loud = (levels > LOUD_LEVEL) & ~is_silent
    levels = np.where(is_loud, levels, 1.0).astype(np.float32)
    if is_loud.any():
        relative /= levels[:, None]
    relative[is_silent] = 1.0
    return Cells(
        powers=relative,
        floor=floor,
        levels=levels,
        row_s=facts.symbol_s / ROWS_PER_SYMBOL,
        column_hz=column_hz,
        first_hz=first_hz,
    )
