"""Morse: a carrier switched on and off along soft edges (ITU-R M.1677-1)."""

from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np

from solidcopy.modes.layout import Bits, Tones
from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.modes.plain_text.morse_code import (
    CODE,
    LETTER_GAP_UNITS,
    MARK_UNITS,
    WORD_GAP_UNITS,
    dot_s,
    edge_times,
)
from solidcopy.signals.keyed_amplitude import keyed_amplitude
from solidcopy.signals.waveform import AnalyticSamples

LETTER_OF: Final = {signal: letter for letter, signal in CODE.items()}
UNREADABLE: Final = "#"
"""Printed for marks that are no signal of the code."""
BANDWIDTHS_PER_BAUD: Final = 3.0
"""Necessary bandwidth over the speed in bauds, steady path (FACTS F1)."""


@dataclass(frozen=True, slots=True)
class MorseKeyer:
    """Key down (1) and up (0), unit by unit."""

    speed_wpm: float
    """Words (PARIS) per minute."""
    edge_s: float
    """Raised-cosine rise and fall; half of each lies outside the mark."""

    @property
    def symbol_s(self) -> float:
        """A dot."""
        return dot_s(self.speed_wpm)

    @property
    def n_tones(self) -> int:
        """One."""
        return 1

    @property
    def tone_spacing_hz(self) -> float:
        """The necessary bandwidth."""
        return BANDWIDTHS_PER_BAUD / self.symbol_s

    def unknown_characters(self, text: str) -> list[str]:
        """Characters without a signal, sorted."""
        return sorted(set(text) - set(CODE) - {" "})

    def allowed(self) -> str:
        """What can be sent, in words."""
        return "letters, figures, blanks and /?=.,+-"

    def bits_of(self, text: str) -> Bits:
        """Units from the first key-down to the last key-up."""
        edges, _ = edge_times(text)
        bits = np.zeros(int(edges[-1]), np.uint8)
        for down, up in edges.astype(int).reshape(-1, 2):
            bits[down:up] = 1
        return bits

    def text_of(self, bits: Bits) -> str:
        """Marks of three units are dashes; gaps of three part letters, of seven words."""
        signals = [""]
        for is_down, run in groupby(bits.tolist()):
            n_units = len(list(run))
            if is_down:
                signals[-1] += "-" if n_units == MARK_UNITS["-"] else "."
            elif n_units >= LETTER_GAP_UNITS:
                signals += [" ", ""] if n_units >= WORD_GAP_UNITS else [""]
        return "".join(
            signal if signal == " " else LETTER_OF.get(signal, UNREADABLE)
            for signal in signals
            if signal
        )

    def tones_of(self, bits: Bits) -> Tones:
        """The units."""
        return bits.astype(np.int64)

    def duration_s(self, tones: Tones) -> float:
        """Units and the outer halves of the first and last edge."""
        return tones.size * self.symbol_s + self.edge_s

    def baseband(self, tones: Tones, sample_rate_hz: int) -> AnalyticSamples:
        """Amplitude 0..1 of the keyed carrier."""
        changes = np.flatnonzero(np.diff(tones, prepend=0, append=0))
        amplitude = keyed_amplitude(
            np.asarray(changes * self.symbol_s + self.edge_s / 2.0, np.float64),
            edge_s=self.edge_s,
            n_samples=round(self.duration_s(tones) * sample_rate_hz),
            sample_rate_hz=sample_rate_hz,
        )
        return amplitude.astype(np.complex128)


MORSE: Final = PlainTextMode(
    name="morse",
    recipe=1,
    window_s=20.0,
    nominal_start_s=0.5,
    keying=MorseKeyer(speed_wpm=20.0, edge_s=0.005),
)
"""The mode: 20 words per minute, edges of 5 ms."""
