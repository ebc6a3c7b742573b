"""Symbol spectra at a place that is known: what any receiver had to work with there.

A receiver under test never knows the place. This is for looking into a trial afterwards.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.mode import Bits, CodedMode
from solidcopy.modes.registry import coded_mode, mode_named
from solidcopy.receivers.builtin.carriers import without_carriers
from solidcopy.receivers.builtin.framing import framing_of
from solidcopy.receivers.builtin.front_end import (
    EXTRA_S,
    LongSpectrum,
    cell_grid,
    long_spectrum,
    work_samples,
)
from solidcopy.receivers.builtin.narrow_band import (
    Tuner,
    build_tuner,
    draw_bands,
    follow_noise,
    symbol_spectra,
)
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.builtin.words import metric_names, soft_bits
from solidcopy.signals.waveform import Waveform

Spectra = NDArray[np.complex64]
"""(n_symbols, n_tones); symbols outside the audio are 0."""


@dataclass(frozen=True, slots=True, eq=False)
class SpectraAtPlace:
    """Cells of all symbols and tones of one transmission."""

    plain: Spectra
    """Of the audio as it is."""
    mended: Spectra
    """As the built-in receiver mends it first: steady carriers are taken out, and times at which
    the noise is louder than usual count for less."""


def spectra_at(
    waveform: Waveform, mode: CodedMode, *, audio_hz: float, start_s: float
) -> SpectraAtPlace:
    """The spectra that the front end draws at one place of a slot.

    Args:
        waveform: one slot, its first sample the slot's edge; any rate.
        mode: of the transmission.
        audio_hz: of its lowest tone.
        start_s: after the slot's edge; taken to the nearest 1/64 of a symbol.
    """
    spectrum = long_spectrum(work_samples(waveform), mode.facts)
    tuner = _tuner(mode.facts.name)
    settings = BuiltinSettings()
    width_hz = mode.facts.width_hz
    cleaned = without_carriers(
        spectrum, low_hz=settings.low_hz - width_hz, high_hz=settings.high_hz + 2.0 * width_hz
    )
    return SpectraAtPlace(
        plain=_drawn(spectrum, tuner, audio_hz, start_s, is_following=False),
        mended=_drawn(cleaned, tuner, audio_hz, start_s, is_following=True),
    )


def _drawn(
    spectrum: LongSpectrum, tuner: Tuner, audio_hz: float, start_s: float, *, is_following: bool
) -> Spectra:
    grid = tuner.second_grid
    bands, centres_hz = draw_bands(spectrum, tuner, np.array([audio_hz]), grid)
    if is_following:
        settings = BuiltinSettings()
        cells = cell_grid(
            spectrum, tuner.framing.facts, low_hz=settings.low_hz, high_hz=settings.high_hz
        )
        if cells is not None:
            bands = follow_noise(bands, cells, tuner, grid)
    return symbol_spectra(
        bands[0], tuner, grid, start_s=start_s, error_hz=audio_hz - float(centres_hz[0])
    )


def n_wrong_bits(spectra: Spectra, mode: CodedMode, codeword: Bits) -> dict[int, int]:
    """Code bits whose soft bit points the wrong way, by the symbols that share one phase.

    Args:
        spectra: of one transmission.
        mode: its mode.
        codeword: (n_bits,) as sent.
    Returns: for every block length of the receiver the number of wrong signs; steady amplitude.
    """
    framing = framing_of(mode)
    names, soft = metric_names(framing), soft_bits(spectra, framing)
    wrong = (soft < 0.0) != (codeword == 1)
    of_steady = {name: int(row.sum()) for name, row in zip(names, wrong, strict=True)}
    return {length: of_steady[f"steady-{length}"] for length in framing.block_lengths}


@cache
def _tuner(name: str) -> Tuner:
    framing = framing_of(coded_mode(mode_named(name), "the symbol picture"))
    return build_tuner(framing, 1.0 / (framing.facts.slot_s + EXTRA_S))
