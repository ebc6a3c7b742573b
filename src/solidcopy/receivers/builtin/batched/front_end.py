"""From the audio of many slots to their spectra and cells (see `builtin.front_end`)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.mode import ModeFacts
from solidcopy.receivers.builtin import carriers, front_end
from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.front_end import Cells, LongSpectrum


@dataclass(frozen=True, slots=True, eq=False)
class Spectra:
    """Long spectra of slots that are heard equally long."""

    bins: Array
    """(n_slots, n_bins) complex64 on the device."""
    bin_hz: float
    heard_s: float

    def host_spectra(self) -> list[LongSpectrum]:
        """The same in this machine's memory, one by one."""
        return [LongSpectrum(bins, self.bin_hz, self.heard_s) for bins in on_host(self.bins)]


@dataclass(frozen=True, slots=True, eq=False)
class CellGrids:
    """Cells of slots."""

    powers: Array
    """(n_slots, n_rows, n_columns) float32 on the device."""
    host_cells: list[Cells | None]
    """Everything else of them; their powers are left out."""


def long_spectra(
    xp: Namespace, samples: Sequence[NDArray[np.float32]], facts: ModeFacts
) -> Spectra:
    """One transform of each slot.

    Args:
        xp: the namespace.
        samples: of each slot at `WORK_RATE_HZ`, all equally many.
        facts: the mode's.
    """
    n_frame = round((facts.slot_s + front_end.EXTRA_S) * front_end.WORK_RATE_HZ)
    heard = np.stack(samples)[:, :n_frame]
    bins = xp.fft.rfft(xp.asarray(heard), n_frame, axis=1)
    bins *= xp.float32(1.0 / n_frame)
    rate_hz = front_end.WORK_RATE_HZ
    return Spectra(bins, rate_hz / n_frame, heard.shape[1] / rate_hz)


def spectra_of(xp: Namespace, spectra: Sequence[LongSpectrum]) -> Spectra:
    """Spectra in this machine's memory, all heard equally long, brought to the device."""
    bins = xp.asarray(np.stack([spectrum.bins for spectrum in spectra]))
    return Spectra(bins, spectra[0].bin_hz, spectra[0].heard_s)


def remove_carriers(xp: Namespace, spectra: Spectra, *, low_hz: float, high_hz: float) -> None:
    """Take carriers out of the slots that have any, in place.

    Which have is found for all at once; each of those is cleaned by `without_carriers`.
    """
    for slot in np.flatnonzero(on_host(_have_lines(xp, spectra, low_hz=low_hz, high_hz=high_hz))):
        raw = LongSpectrum(on_host(spectra.bins[slot]), spectra.bin_hz, spectra.heard_s)
        clean = carriers.without_carriers(raw, low_hz=low_hz, high_hz=high_hz)
        spectra.bins[slot] = xp.asarray(clean.bins)


def _have_lines(xp: Namespace, spectra: Spectra, *, low_hz: float, high_hz: float) -> Array:
    """(n_slots,) whether `find_lines` would find any."""
    bin_hz, n_bins = spectra.bin_hz, spectra.bins.shape[1]
    n_span = round(carriers.MEDIAN_SPAN_HZ / bin_hz)
    first = max(1, round(low_hz / bin_hz))
    n_blocks = (min(round(high_hz / bin_hz), n_bins - 1) - first) // n_span
    band = spectra.bins[:, first - 1 : first + n_blocks * n_span + 1]
    smooth = band[:, 1:-1] - xp.float32(0.5) * (band[:, :-2] + band[:, 2:])
    powers = xp.square(smooth.real) + xp.square(smooth.imag)
    blocks = powers.reshape(-1, n_blocks, n_span)
    medians = xp.partition(blocks, n_span // 2, axis=2)[:, :, n_span // 2]
    of_strongest = xp.float32(carriers.LOWEST_SHARE) * powers.max(axis=1)[:, None]
    lowest = xp.maximum(xp.float32(carriers.LOWEST_PROMINENCE) * medians, of_strongest)
    return (blocks.max(axis=2) > lowest).any(axis=1)


def cell_grids(
    xp: Namespace, spectra: Spectra, facts: ModeFacts, *, low_hz: float, high_hz: float
) -> CellGrids:
    """Cells of all slots. Those with silent rows are left to `cell_grid`, for they are rare."""
    shape = front_end.grid_shape(
        facts,
        bin_hz=spectra.bin_hz,
        heard_s=spectra.heard_s,
        low_hz=low_hz,
        high_hz=high_hz,
    )
    n_slots = spectra.bins.shape[0]
    if shape.n_heard < shape.n_symbol:
        return CellGrids(xp.ones((n_slots, 0, shape.n_columns), xp.float32), [None] * n_slots)
    powers = _cell_powers(xp, spectra.bins, shape)
    row_powers = on_host(powers.mean(axis=2))
    lowest = front_end.SILENT_SHARE * row_powers.mean(axis=1, keepdims=True)
    has_silence = ~(row_powers > lowest).all(axis=1)
    grids = _normalised(xp, powers, facts, first_hz=shape.first_bin * spectra.bin_hz)
    for slot in np.flatnonzero(has_silence):
        spectrum = LongSpectrum(on_host(spectra.bins[slot]), spectra.bin_hz, spectra.heard_s)
        cells = front_end.cell_grid(spectrum, facts, low_hz=low_hz, high_hz=high_hz)
        grids.host_cells[slot] = cells
        grids.powers[slot] = xp.float32(1.0) if cells is None else xp.asarray(cells.powers)
    return grids


def _cell_powers(xp: Namespace, bins: Array, shape: front_end.GridShape) -> Array:
    """(n_slots, n_rows, n_columns) powers before normalising."""
    band = xp.zeros((bins.shape[0], shape.n_band), xp.complex64)
    taken = bins[:, shape.first_bin : shape.first_bin + shape.n_band]
    band[:, : taken.shape[1]] = taken
    analytic = xp.fft.ifft(band, axis=1, norm="forward")[:, : shape.n_heard]
    window = front_end.symbol_window(shape.n_symbol)
    n_pad = (window.size - shape.n_symbol) // 2
    padded = xp.pad(analytic, ((0, 0), (n_pad, n_pad)))
    starts = np.arange(
        0, padded.shape[1] - window.size + 1, shape.n_symbol // front_end.ROWS_PER_SYMBOL
    )
    places = xp.asarray(starts[:, None] + np.arange(window.size))
    pieces = padded[:, places] * xp.asarray(window)
    n_transform = front_end.COLUMNS_PER_TONE * shape.n_symbol
    transforms = xp.fft.fft(pieces, n_transform, axis=2)[:, :, : shape.n_columns]
    powers = xp.square(transforms.real) + xp.square(transforms.imag)
    powers *= xp.float32(1.0 / (shape.n_symbol * float(window @ window)))
    return powers


def _noise_means(xp: Namespace, values: Array) -> Array:
    """Mean that noise of each median along the last axis would have."""
    n_values = values.shape[-1]
    medians = xp.partition(values, n_values // 2, axis=-1)[..., n_values // 2]
    return medians / xp.float32(front_end.median_share(n_values))


def _normalised(xp: Namespace, powers: Array, facts: ModeFacts, *, first_hz: float) -> CellGrids:
    """Divide by the noise floor of every column and by the noise level of every row."""
    columns = xp.ascontiguousarray(powers[:, :: front_end.FLOOR_ROW_STEP].transpose(0, 2, 1))
    means = on_host(_noise_means(xp, columns))
    highest = on_host(powers.max(axis=(1, 2)))
    floors = np.stack(
        [
            front_end.smooth_floor(own, facts, highest_power=float(most))
            for own, most in zip(means, highest, strict=True)
        ]
    )
    divisors = np.where(means > front_end.CARRIER_FACTOR * floors, means, floors)
    # Only digital silence has none; it is put in place by the caller.
    divisors = np.where(divisors > 0.0, divisors, 1.0)
    powers /= xp.asarray(divisors, xp.float32)[:, None, :]
    levels = _noise_means(xp, powers[:, :, :: front_end.LEVEL_COLUMN_STEP])
    levels = xp.where(levels > xp.float32(front_end.LOUD_LEVEL), levels, xp.float32(1.0))
    powers /= levels[:, :, None]
    cells: list[Cells | None] = [
        Cells(
            powers=np.empty((0, 0), np.float32),
            floor=floor,
            levels=own_levels,
            row_s=facts.symbol_s / front_end.ROWS_PER_SYMBOL,
            column_hz=facts.tone_spacing_hz / front_end.COLUMNS_PER_TONE,
            first_hz=first_hz,
        )
        for floor, own_levels in zip(floors, on_host(levels), strict=True)
    ]
    return CellGrids(powers, cells)
