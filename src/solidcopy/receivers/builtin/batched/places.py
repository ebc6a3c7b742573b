"""Alignment of the candidates of many slots at once (see `builtin.locate`, `narrow_band`)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.receivers.builtin import locate, narrow_band
from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.batched.front_end import Spectra
from solidcopy.receivers.builtin.batched.soft_bits import block_strengths
from solidcopy.receivers.builtin.front_end import Cells
from solidcopy.receivers.builtin.locate import Located, Strengths
from solidcopy.receivers.builtin.narrow_band import N_PROBE, PAD_SYMBOLS, Aligned, Grid, Tuner
from solidcopy.receivers.builtin.search import Bars, Candidates

N_AT_ONCE = 1024
"""Places aligned together: about 0.4 GB on the device."""


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """Places to look at, of all slots."""

    slots: NDArray[np.int64]
    """(n,) which slot."""
    audio_hz: NDArray[np.float64]
    starts_s: NDArray[np.float64]

    def parts(self) -> "list[Wanted]":
        """At most `N_AT_ONCE` each."""
        return [
            Wanted(self.slots[part], self.audio_hz[part], self.starts_s[part])
            for first in range(0, self.slots.size, N_AT_ONCE)
            for part in [slice(first, first + N_AT_ONCE)]
        ]


@dataclass(frozen=True, slots=True, eq=False)
class Aligner:
    """Aligns places of a batch of slots."""

    xp: Namespace
    tuner: Tuner
    spectra: Spectra
    cells: Sequence[Cells | None]

    def align(self, wanted: Wanted, grid: Grid) -> list[Aligned]:
        """The best place on the grid around each wanted one."""
        aligned: list[Aligned] = []
        for part in wanted.parts():
            bands, centres_hz = self._bands(part, grid)
            aligned += self._best(bands, centres_hz, part, grid)
        return aligned

    def align_and_cut(
        self, wanted: Wanted, grid: Grid
    ) -> tuple[list[Aligned], NDArray[np.complex64], list[Strengths | None]]:
        """The same, with the symbol spectra (n, n_symbols, n_tones) there, and what
        `locate.block_strengths` says of each."""
        facts = self.tuner.framing.facts
        aligned: list[Aligned] = []
        cut = [np.empty((0, facts.n_symbols, facts.n_tones), np.complex64)]
        strengths: list[Strengths | None] = []
        for part in wanted.parts():
            bands, centres_hz = self._bands(part, grid)
            best = self._best(bands, centres_hz, part, grid)
            spectra = self._symbol_spectra(bands, centres_hz, best, grid)
            strengths += block_strengths(self.xp, spectra, self.tuner.framing)
            cut.append(on_host(spectra))
            aligned += best
        return aligned, np.concatenate(cut), strengths

    def _bands(self, wanted: Wanted, grid: Grid) -> tuple[Array, NDArray[np.float64]]:
        """As `draw_bands` and `follow_noise`."""
        xp, tuner = self.xp, self.tuner
        n_band = tuner.band_offsets.size
        centres = np.rint(wanted.audio_hz / tuner.bin_hz).astype(np.int64)
        places = xp.asarray(centres)[:, None] + xp.asarray(tuner.band_offsets)
        xp.clip(places, 0, self.spectra.bins.shape[1] - 1, out=places)
        bins = self.spectra.bins[xp.asarray(wanted.slots)[:, None], places]
        bins *= xp.asarray(tuner.taper)
        if grid.oversampling > 1:
            n_above = int(np.count_nonzero(tuner.band_offsets >= 0))
            finer = xp.zeros((centres.size, n_band * grid.oversampling), xp.complex64)
            finer[:, :n_above] = bins[:, :n_above]
            finer[:, n_above - n_band :] = bins[:, n_above:]
            bins = finer
        n_pad = PAD_SYMBOLS * grid.n_per_symbol
        bands = xp.zeros((centres.size, bins.shape[1] + 2 * n_pad), xp.complex64)
        bands[:, n_pad:-n_pad] = xp.fft.ifft(bins, axis=1, norm="forward")
        self._follow_noise(bands, wanted, grid)
        return bands, np.asarray(centres * tuner.bin_hz, np.float64)

    def _follow_noise(self, bands: Array, wanted: Wanted, grid: Grid) -> None:
        """Divide by the noise levels of each slot, in place."""
        table = np.ones((len(self.cells), bands.shape[1]), np.float32)
        for slot in np.unique(wanted.slots):
            cells = self.cells[slot]
            assert cells is not None
            levels = narrow_band.noise_levels(cells, self.tuner, grid, bands.shape[1])
            table[slot] = 1.0 if levels is None else levels
        if (table != 1.0).any():
            bands /= self.xp.asarray(table)[self.xp.asarray(wanted.slots)]

    def _best(
        self, bands: Array, centres_hz: NDArray[np.float64], wanted: Wanted, grid: Grid
    ) -> list[Aligned]:
        """As `narrow_band.align`, for every band."""
        xp = self.xp
        firsts = np.array(
            [narrow_band.first_start(self.tuner, grid, start_s) for start_s in wanted.starts_s]
        )
        powers = self._block_powers(bands, xp.asarray(firsts), grid)
        flat = powers.reshape(powers.shape[0], -1)
        places = flat.argmax(axis=1)
        highest = on_host(flat[xp.arange(places.size), places])
        found = np.unravel_index(on_host(places), powers.shape[1:])
        return [
            narrow_band.aligned_at(
                self.tuner,
                grid,
                (int(coarse), int(fine), int(first + start)),
                centre_hz=float(centre_hz),
                power=float(power),
            )
            for coarse, fine, start, first, centre_hz, power in zip(
                *found, firsts, centres_hz, highest, strict=True
            )
        ]

    def _block_powers(self, bands: Array, firsts: Array, grid: Grid) -> Array:
        """(n, n_coarse, n_fine, n_starts), as the kernel `sync_block_powers`.

        Both sums are matrix products: over the samples of a probe, then over a block's symbols.
        """
        xp, framing = self.xp, self.tuner.framing
        n, (n_blocks, n_per_block) = bands.shape[0], framing.sync_symbols.shape
        n_coarse, n_fine = grid.errors_hz.shape
        offsets = xp.asarray(framing.sync_symbols.ravel() * grid.n_per_symbol)
        starts = firsts[:, None] + xp.arange(grid.n_starts)
        strides = grid.oversampling * xp.arange(N_PROBE)
        at = offsets[:, None, None, None] + starts[:, :, None] + strides
        windows = bands[xp.arange(n)[:, None, None], at].reshape(offsets.size, -1, N_PROBE)
        probes = xp.asarray(grid.probes).reshape(n_coarse, offsets.size, N_PROBE)
        # (n_sync, n * n_starts, n_probe) times (n_sync, n_probe, n_coarse)
        z = xp.matmul(windows, probes.transpose(1, 2, 0))
        z = z.reshape(n_blocks, n_per_block, -1, n_coarse).transpose(0, 3, 2, 1)
        # (n_blocks, n_coarse, n * n_starts, n_per_block) times (n_coarse, n_per_block, n_fine)
        sums = xp.matmul(z, xp.asarray(grid.rotations).transpose(0, 2, 1))
        powers = (xp.square(sums.real) + xp.square(sums.imag)).sum(axis=0)
        return powers.reshape(n_coarse, n, grid.n_starts, n_fine).transpose(1, 0, 3, 2)

    def _symbol_spectra(
        self, bands: Array, centres_hz: NDArray[np.float64], best: list[Aligned], grid: Grid
    ) -> Array:
        """As `narrow_band.symbol_spectra`, for every band."""
        xp, facts = self.xp, self.tuner.framing.facts
        per_symbol = grid.n_per_symbol
        firsts = [round(place.start_s / facts.symbol_s * per_symbol) for place in best]
        firsts_there = xp.asarray(np.array(firsts) + PAD_SYMBOLS * per_symbol)
        errors_hz = np.array([place.audio_hz for place in best]) - centres_hz
        symbols = np.arange(facts.n_symbols)
        within = symbols[:, None] * per_symbol + grid.oversampling * np.arange(N_PROBE)
        at = firsts_there[:, None, None] + xp.asarray(within)
        windows = bands[xp.arange(len(best))[:, None, None], at]
        times = xp.asarray(facts.symbol_s * (symbols[:, None] + narrow_band.middle_phases()))
        turns = xp.asarray(errors_hz)[:, None, None] * times
        windows *= xp.exp(-2j * np.pi * turns).astype(xp.complex64)
        return xp.matmul(windows, xp.asarray(self.tuner.tone_probes.T))


def locate_all(
    aligner: Aligner, candidates: Sequence[Candidates], bars: Bars
) -> list[list[Located]]:
    """For every slot what `locate.locate` finds."""
    tuner, cells = aligner.tuner, aligner.cells
    found: list[list[Aligned]] = [[] for _ in cells]
    wanted = _wanted([(own.audio_hz, own.starts_s) for own in candidates])
    scores = np.concatenate([own.scores for own in candidates])
    for slot, place, score in zip(
        wanted.slots, aligner.align(wanted, tuner.first_grid), scores, strict=True
    ):
        own = cells[slot]
        assert own is not None
        if locate.is_promising(place, float(score), own, bars):
            found[slot].append(place)
    found = [locate.distinct_places(places) for places in found]
    wanted = _wanted(
        [
            (
                np.array([place.audio_hz for place in places], np.float64),
                np.array([place.start_s for place in places], np.float64),
            )
            for places in found
        ]
    )
    located: list[list[Located]] = [[] for _ in cells]
    cut = aligner.align_and_cut(wanted, tuner.second_grid)
    for slot, place, symbols, strengths in zip(wanted.slots, *cut, strict=True):
        own = cells[slot]
        assert own is not None
        here = locate.measured(symbols, place, own, tuner.framing, strengths)
        if here is not None and here.n_sync_hits >= bars.lowest_sync_hits:
            located[slot].append(here)
    return [sorted(places, key=lambda place: -place.block_power) for places in located]


def _wanted(of_slots: list[tuple[NDArray[np.float64], NDArray[np.float64]]]) -> Wanted:
    """Frequencies and starts of every slot, one after the other."""
    audio_hz, starts_s = (np.concatenate(values) for values in zip(*of_slots, strict=True))
    counts = [own.size for own, _ in of_slots]
    return Wanted(np.repeat(np.arange(len(counts)), counts), audio_hz, starts_s)
