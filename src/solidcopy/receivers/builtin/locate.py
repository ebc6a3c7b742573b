"""From candidates to the few places worth decoding, each with aligned symbol spectra."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.block_metrics import strongest_blocks
from solidcopy.receivers.builtin.framing import Framing, blocks_of
from solidcopy.receivers.builtin.front_end import Cells, LongSpectrum
from solidcopy.receivers.builtin.narrow_band import (
    Aligned,
    Tuner,
    align,
    draw_bands,
    follow_noise,
    symbol_spectra,
)
from solidcopy.receivers.builtin.search import Bars, Candidates

Strengths = NDArray[np.float32]
SHARPENING_STEPS = 0.008 * np.arange(-6, 7)
"""Frequency errors tried with the data's help, in tone steps; FT4 alignments err by up to 1 Hz."""
LEAST_BLOCK_POWER = 23.5
"""Strongest sequence of a block of 4 symbols of 4 tones, over the noise of a cell, on average. Of
FT4 places that noise offers 1 in 100 has more (20.4 is usual), of transmissions at -18.9 dB 98."""
SAME_START_S = 0.04
SAME_AUDIO_HZ = 2.0
"""Closer than both, two candidates have run into the same place."""


@dataclass(frozen=True, slots=True, eq=False)
class Located:
    """A place worth decoding."""

    audio_hz: float
    start_s: float
    spectra: NDArray[np.complex64]
    """(n_symbols, n_tones), scaled so that the noise power of a cell is 1."""
    noise_power: float
    """Noise power of a cell before that scaling, leakage of loud symbols included."""
    floor_power: float
    """Noise power of a cell from the quiet times and frequencies around."""
    es_n0: float
    """Energy per symbol over noise density, from the synchronisation symbols; at least 1."""
    n_sync_hits: int
    block_power: float


def _first_alignments(
    spectrum: LongSpectrum, cells: Cells, candidates: Candidates, tuner: Tuner, bars: Bars
) -> list[Aligned]:
    """Candidates whose synchronisation blocks stand out, the strongest first, each place once."""
    grid = tuner.first_grid
    bands, centres_hz = draw_bands(spectrum, tuner, candidates.audio_hz, grid)
    bands = follow_noise(bands, cells, tuner, grid)
    found = []
    for band, centre_hz, start_s, score in zip(
        bands, centres_hz, candidates.starts_s, candidates.scores, strict=True
    ):
        best = align(band, tuner, grid, centre_hz=float(centre_hz), start_s=float(start_s))
        if is_promising(best, float(score), cells, bars):
            found.append(best)
    return distinct_places(found)


def is_promising(place: Aligned, score: float, cells: Cells, bars: Bars) -> bool:
    """Whether an aligned candidate deserves a finer alignment."""
    needed = bars.lowest_block_power * cells.floor_at(place.audio_hz)
    return place.block_power >= needed or score >= bars.sufficient_score


def distinct_places(found: list[Aligned]) -> list[Aligned]:
    """Each place once, the strongest first."""
    found = sorted(found, key=lambda place: -place.block_power)
    distinct: list[Aligned] = []
    for place in found:
        if not any(
            abs(place.audio_hz - other.audio_hz) < SAME_AUDIO_HZ
            and abs(place.start_s - other.start_s) < SAME_START_S
            for other in distinct
        ):
            distinct.append(place)
    return distinct


@dataclass(frozen=True, slots=True, eq=False)
class Sharpening:
    """How a place's frequency is sharpened by the blocks of its data symbols."""

    errors_hz: NDArray[np.float64]
    turns: NDArray[np.complex64]
    """(n_errors, n_symbols) what turns a frequency error's phases back."""
    blocks: NDArray[np.int64]
    """(n_blocks, n_per_block) symbol numbers."""


def sharpening_of(framing: Framing) -> Sharpening | None:
    """None for a mode whose synchronisation blocks are as long as the longest of soft bits."""
    n_per_block = framing.sync_symbols.shape[1]
    if n_per_block >= framing.block_lengths[-1]:
        return None
    errors_hz = np.asarray(SHARPENING_STEPS * framing.facts.tone_spacing_hz, np.float64)
    turns = np.outer(errors_hz * framing.facts.symbol_s, np.arange(framing.facts.n_symbols))
    return Sharpening(
        errors_hz,
        np.exp(-2j * np.pi * turns).astype(np.complex64),
        np.concatenate([framing.sync_symbols, blocks_of(framing.data_symbols, n_per_block)]),
    )


def block_strengths(spectra: NDArray[np.complex64], framing: Framing) -> Strengths | None:
    """(n_errors,) power of the strongest sequences at every error of `sharpening_of`, if any."""
    sharpening = sharpening_of(framing)
    if sharpening is None:
        return None
    return strongest_blocks(spectra, sharpening.blocks, framing.known_tones, sharpening.turns)


def _sharpened(
    spectra: NDArray[np.complex64],
    place: Aligned,
    strengths: Strengths,
    floor: float,
    framing: Framing,
) -> tuple[NDArray[np.complex64], Aligned] | None:
    """The frequency at which blocks of data symbols are strongest, whatever they carry.

    Synchronisation blocks tell a frequency as well as soft bits need it only if they are as long
    as the longest blocks that soft bits are taken from; if not, the data help. A block's best
    sequence is strongest, on average, where the phase does not turn within the block. How strong
    that is tells noise from a transmission better than the synchronisation symbols do.

    Returns: None if it is too weak for a transmission.
    """
    sharpening = sharpening_of(framing)
    assert sharpening is not None
    best = int(np.argmax(strengths))
    is_heard = np.abs(spectra).sum(axis=1) > 0.0
    n_heard = np.count_nonzero(is_heard[sharpening.blocks].any(axis=1))
    if strengths[best] < LEAST_BLOCK_POWER * floor * n_heard:
        return None
    sharp = replace(place, audio_hz=place.audio_hz + float(sharpening.errors_hz[best]))
    return spectra * sharpening.turns[best][:, None], sharp


def measured(
    spectra: NDArray[np.complex64],
    place: Aligned,
    cells: Cells,
    framing: Framing,
    strengths: Strengths | None,
) -> Located | None:
    """Noise, energy and hits from the synchronisation symbols; None if they are outside,
    or if all symbols together are too weak.
    """
    if strengths is not None:
        floor = cells.floor_at(place.audio_hz)
        sharp = _sharpened(spectra, place, strengths, floor, framing)
        if sharp is None:
            return None
        spectra, place = sharp
    tones = framing.sync_tones.ravel()
    sync = spectra[framing.sync_symbols.ravel()]
    powers = sync.real.astype(np.float64) ** 2 + sync.imag.astype(np.float64) ** 2
    is_heard = powers.sum(axis=1) > 0.0
    powers, tones = powers[is_heard], tones[is_heard]
    if tones.size == 0:
        return None
    wanted = powers[np.arange(tones.size), tones]
    noise = (powers.sum() - wanted.sum()) / (powers.size - tones.size)
    if not noise > 0.0:
        return None
    return Located(
        audio_hz=place.audio_hz,
        start_s=place.start_s,
        spectra=(spectra / np.sqrt(noise)).astype(np.complex64),
        noise_power=float(noise),
        floor_power=cells.floor_at(place.audio_hz),
        es_n0=max(float(wanted.mean() / noise) - 1.0, 1.0),
        n_sync_hits=int(np.count_nonzero(powers.argmax(axis=1) == tones)),
        block_power=place.block_power,
    )


def locate(
    spectrum: LongSpectrum,
    cells: Cells,
    candidates: Candidates,
    tuner: Tuner,
    bars: Bars,
) -> list[Located]:
    """Align every candidate, drop the hopeless, align the rest more finely.

    Returns: places worth decoding, the strongest first.
    """
    if candidates.starts_s.size == 0:
        return []
    grid = tuner.second_grid
    places = _first_alignments(spectrum, cells, candidates, tuner, bars)
    audio_hz = np.array([place.audio_hz for place in places])
    bands, centres_hz = draw_bands(spectrum, tuner, audio_hz, grid)
    bands = follow_noise(bands, cells, tuner, grid)
    located = []
    for band, centre_hz, place in zip(bands, centres_hz, places, strict=True):
        centre = float(centre_hz)
        best = align(band, tuner, grid, centre_hz=centre, start_s=place.start_s)
        spectra = symbol_spectra(
            band, tuner, grid, start_s=best.start_s, error_hz=best.audio_hz - centre
        )
        strengths = block_strengths(spectra, tuner.framing)
        place_of = measured(spectra, best, cells, tuner.framing, strengths)
        if place_of is not None and place_of.n_sync_hits >= bars.lowest_sync_hits:
            located.append(place_of)
    return sorted(located, key=lambda place: -place.block_power)
