"""From a candidate to aligned symbol spectra.

Around each candidate a band of 16 tone steps is cut out of the long spectrum, which leaves 16
complex samples per symbol, a critically sampled band. Finer start times come from the same band
drawn with four times as many samples per symbol, of which every fourth is then used.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.kernels.sync_alignment import sync_block_powers
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.front_end import Cells, LongSpectrum

Hertz = NDArray[np.floating[Any]]

N_PROBE = 16
"""Samples that a symbol spectrum is taken from; also the width of the band in tone steps."""
BELOW_TONES = 4.5
"""Tone steps of the band below the lowest tone."""
EDGE_TONES = 1.6
"""Tone steps over which the band's edges are tapered."""
PAD_SYMBOLS = 20
"""Empty symbols put before and after the audio, for transmissions that are cut."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Time and frequency errors tried around a place, with the kernel's tables."""

    oversampling: int
    """Samples of the drawn band per sample of a probe."""
    errors_hz: Hertz
    """(n_coarse, n_fine) frequency errors."""
    n_starts: int
    probes: NDArray[np.complex64]
    """(n_coarse, n_blocks, n_per_block, N_PROBE)."""
    rotations: NDArray[np.complex64]
    """(n_coarse, n_fine, n_per_block)."""

    @property
    def n_per_symbol(self) -> int:
        """Samples of the drawn band per symbol."""
        return N_PROBE * self.oversampling


@dataclass(frozen=True, slots=True, eq=False)
class Tuner:
    """Tables for one mode that never change: made once per receiver."""

    framing: Framing
    bin_hz: float
    band_offsets: NDArray[np.int64]
    """Bins of the band relative to the lowest tone's, in the order of a transform."""
    taper: NDArray[np.float32]
    tone_probes: NDArray[np.complex64]
    """(n_tones, N_PROBE) conjugate tones, divided by the number of samples."""
    first_grid: Grid
    second_grid: Grid


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """The best place on a grid."""

    audio_hz: float
    start_s: float
    """After the slot's edge."""
    block_power: float
    """Synchronisation blocks, coherent within a block, as mean cell powers times n_per_block."""


def middle_phases() -> NDArray[np.float64]:
    """Time of each probe sample from the symbol's middle, in symbols.

    Phases that count from the middle make a small frequency error turn a cell only by the phase
    between the middles of symbols.
    """
    return (np.arange(N_PROBE) - (N_PROBE - 1) / 2) / N_PROBE


def tone_probes(n_tones: int) -> NDArray[np.complex64]:
    """(n_tones, N_PROBE) conjugate tones one step apart; a cell is the product's mean.

    Their phases count from the symbol's start, where every tone of a continuous phase with whole
    cycles per symbol has the carrier's own phase.
    """
    turns = np.outer(np.arange(n_tones), np.arange(N_PROBE) / N_PROBE)
    return np.asarray(np.exp(-2j * np.pi * turns) / N_PROBE, np.complex64)


def _grid(
    framing: Framing,
    *,
    oversampling: int,
    coarse_hz: Hertz,
    fine_hz: Hertz,
    n_starts: int,
) -> Grid:
    """Tables of one grid."""
    symbol_s = framing.facts.symbol_s
    tones = tone_probes(framing.facts.n_tones)[framing.sync_tones]
    turns = np.outer(coarse_hz * symbol_s, middle_phases())
    errors_hz = coarse_hz[:, None] + fine_hz
    steps = errors_hz[..., None] * symbol_s * np.arange(framing.sync_symbols.shape[1])
    return Grid(
        oversampling=oversampling,
        errors_hz=errors_hz,
        n_starts=n_starts,
        probes=(tones * np.exp(-2j * np.pi * turns)[:, None, None]).astype(np.complex64),
        rotations=np.exp(-2j * np.pi * steps).astype(np.complex64),
    )


def build_tuner(framing: Framing, bin_hz: float) -> Tuner:
    """Tables for a mode and a long spectrum of `bin_hz`."""
    step_hz = framing.facts.tone_spacing_hz
    n_band = round(N_PROBE * step_hz / bin_hz)
    n_below = round(BELOW_TONES * step_hz / bin_hz)
    n_edge = round(EDGE_TONES * step_hz / bin_hz)
    offsets = np.arange(-n_below, n_band - n_below)
    edge = 0.5 - 0.5 * np.cos(np.pi * (np.arange(n_edge) + 0.5) / n_edge)
    taper = np.ones(n_band)
    taper[:n_edge], taper[-n_edge:] = edge, edge[::-1]
    order = np.argsort(offsets % n_band)
    return Tuner(
        framing=framing,
        bin_hz=bin_hz,
        band_offsets=offsets[order],
        taper=taper[order].astype(np.float32),
        tone_probes=tone_probes(framing.facts.n_tones),
        first_grid=_grid(
            framing,
            oversampling=1,
            coarse_hz=step_hz * 0.2 * np.arange(-3, 4),
            fine_hz=step_hz * 0.04 * np.arange(-2, 3),
            n_starts=12,
        ),
        second_grid=_grid(
            framing,
            oversampling=4,
            coarse_hz=np.zeros(1),
            fine_hz=step_hz * 0.008 * np.arange(-6, 7),
            n_starts=8,
        ),
    )


def draw_bands(
    spectrum: LongSpectrum, tuner: Tuner, audio_hz: Hertz, grid: Grid
) -> tuple[NDArray[np.complex64], Hertz]:
    """Complex baseband around each of several frequencies.

    Args:
        spectrum: the slot's.
        tuner: the mode's tables.
        audio_hz: (n,) wanted frequencies of the lowest tone.
        grid: says how finely the bands are drawn.
    Returns: bands (n, n_samples) complex64 with `PAD_SYMBOLS` empty symbols at either end, and
        the frequencies (n,) that lie at 0 Hz in them, on the spectrum's bins.
    """
    n_band = tuner.band_offsets.size
    centres = np.rint(audio_hz / tuner.bin_hz).astype(np.int64)
    places = centres[:, None] + tuner.band_offsets
    bins = spectrum.bins[np.clip(places, 0, spectrum.bins.size - 1)] * tuner.taper
    if grid.oversampling > 1:
        n_above = int(np.count_nonzero(tuner.band_offsets >= 0))
        finer = np.zeros((centres.size, n_band * grid.oversampling), np.complex64)
        finer[:, :n_above] = bins[:, :n_above]
        finer[:, n_above - n_band :] = bins[:, n_above:]
        bins = finer
    n_pad = PAD_SYMBOLS * grid.n_per_symbol
    bands = np.zeros((centres.size, bins.shape[1] + 2 * n_pad), np.complex64)
    bands[:, n_pad:-n_pad] = scipy.fft.ifft(bins, axis=1, norm="forward", overwrite_x=True)
    return bands, centres * tuner.bin_hz


def follow_noise(
    bands: NDArray[np.complex64], cells: Cells, tuner: Tuner, grid: Grid
) -> NDArray[np.complex64]:
    """Weigh down the times at which the noise over the whole band is louder than usual.

    Soft bits grow with amplitude over noise power, so a sample is divided by the noise level
    (derived here). With steady noise nothing is changed.

    Args:
        bands: (n, n_samples) from `draw_bands`.
        cells: the slot's, for their levels.
        tuner: the mode's tables.
        grid: how finely the bands are drawn.
    """
    levels = noise_levels(cells, tuner, grid, bands.shape[1])
    return bands if levels is None else np.asarray(bands / levels, np.complex64)


def noise_levels(
    cells: Cells, tuner: Tuner, grid: Grid, n_samples: int
) -> NDArray[np.float64] | None:
    """(n_samples,) noise level at every sample of a drawn band; None where all are usual."""
    if (cells.levels <= 1.0).all():
        return None
    symbol_s = tuner.framing.facts.symbol_s
    times_s = (np.arange(n_samples) / grid.n_per_symbol - PAD_SYMBOLS) * symbol_s
    middles_s = np.arange(cells.levels.size) * cells.row_s + symbol_s / 2
    return np.interp(times_s, middles_s, np.maximum(cells.levels, 1.0))


def align(
    band: NDArray[np.complex64], tuner: Tuner, grid: Grid, *, centre_hz: float, start_s: float
) -> Aligned:
    """The start and frequency of a grid at which the synchronisation blocks are strongest.

    Args:
        band: (n_samples,) from `draw_bands`.
        tuner: the mode's tables.
        grid: the places tried, centred on `centre_hz` and `start_s`.
        centre_hz: frequency that lies at 0 Hz in the band.
        start_s: start after the slot's edge.
    """
    framing = tuner.framing
    first = first_start(tuner, grid, start_s)
    powers = sync_block_powers(
        band,
        np.array([first, grid.oversampling]),
        framing.sync_symbols * grid.n_per_symbol,
        grid.probes,
        grid.rotations,
        grid.n_starts,
    )
    coarse, fine, start = np.unravel_index(int(np.argmax(powers)), powers.shape)
    return aligned_at(
        tuner,
        grid,
        (int(coarse), int(fine), first + int(start)),
        centre_hz=centre_hz,
        power=float(powers[coarse, fine, start]),
    )


def first_start(tuner: Tuner, grid: Grid, start_s: float) -> int:
    """Sample of a drawn band that is the first start of a grid around `start_s`."""
    sample_s = tuner.framing.facts.symbol_s / grid.n_per_symbol
    return round(start_s / sample_s) + PAD_SYMBOLS * grid.n_per_symbol - grid.n_starts // 2


def aligned_at(
    tuner: Tuner, grid: Grid, at: tuple[int, int, int], *, centre_hz: float, power: float
) -> Aligned:
    """The place of one point of a grid.

    Args:
        tuner: the mode's tables.
        grid: the grid.
        at: coarse and fine error, and the sample of the start.
        centre_hz: frequency that lies at 0 Hz in the band.
        power: from `sync_block_powers`.
    """
    coarse, fine, sample = at
    sample_s = tuner.framing.facts.symbol_s / grid.n_per_symbol
    return Aligned(
        audio_hz=centre_hz + float(grid.errors_hz[coarse, fine]),
        start_s=(sample - PAD_SYMBOLS * grid.n_per_symbol) * sample_s,
        block_power=power / tuner.framing.sync_symbols.shape[1],
    )


def symbol_spectra(
    band: NDArray[np.complex64], tuner: Tuner, grid: Grid, *, start_s: float, error_hz: float
) -> NDArray[np.complex64]:
    """Cells of all symbols and tones.

    Args:
        band: (n_samples,) from `draw_bands`.
        tuner: the mode's tables.
        grid: how finely the band is drawn.
        start_s: start after the slot's edge, a multiple of the band's sample time.
        error_hz: frequency of the lowest tone less that at 0 Hz in the band.
    Returns: (n_symbols, n_tones) complex64; symbols outside the audio are 0.
    """
    facts = tuner.framing.facts
    first = round(start_s / facts.symbol_s * grid.n_per_symbol) + PAD_SYMBOLS * grid.n_per_symbol
    symbols = np.arange(facts.n_symbols)
    places = first + symbols[:, None] * grid.n_per_symbol + grid.oversampling * np.arange(N_PROBE)
    turns = error_hz * facts.symbol_s * (symbols[:, None] + middle_phases())
    windows = band[places] * np.exp(-2j * np.pi * turns).astype(np.complex64)
    return np.asarray(windows @ tuner.tone_probes.T)
