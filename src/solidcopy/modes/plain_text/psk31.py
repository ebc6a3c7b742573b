"""PSK31: the phase turned over for every 0, 31.25 Bd (ITU-R M.2034; FACTS F3)."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from solidcopy.modes.layout import Bits, Tones
from solidcopy.modes.plain_text import varicode
from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.modes.plain_text.printed import own_line
from solidcopy.signals.waveform import AnalyticSamples

NEW_LINE: Final = "\n"
N_REVERSALS: Final = 16
"""Sent before the text: half a second of turns, for a receiver to fall into step."""
N_STEADY: Final = 8
"""Symbols of steady carrier after the text. Both lengths are ours; that there are such a start
and end is practice of the trade (from memory)."""


@dataclass(frozen=True, slots=True)
class PhaseKeyer:
    """Signs +1 (0) and -1 (1) of pulses that last two symbols and overlap.

    Letters are sent small, as people type: their codes are shorter. The text stands on a line of
    its own.
    """

    symbol_s: float

    @property
    def n_tones(self) -> int:
        """One."""
        return 1

    @property
    def tone_spacing_hz(self) -> float:
        """The symbol rate."""
        return 1.0 / self.symbol_s

    def unknown_characters(self, text: str) -> list[str]:
        """Characters without a code, sorted."""
        return sorted(character for character in set(text) if not " " <= character <= "~")

    def allowed(self) -> str:
        """What can be sent, in words."""
        return "the printed characters of ASCII"

    def bits_of(self, text: str) -> Bits:
        """Reversals, the text, steady carrier."""
        coded = varicode.bits_of(NEW_LINE + text.lower() + NEW_LINE)
        return np.pad(coded.astype(np.uint8), (N_REVERSALS, N_STEADY), constant_values=(0, 1))

    def text_of(self, bits: Bits) -> str:
        """What is printed, the longest line of it."""
        return own_line(varicode.printed(bits)).upper()

    def tones_of(self, bits: Bits) -> Tones:
        """(n_bits + 1,) signs, 0 for + and 1 for -; the first is what the second refers to."""
        return np.concatenate([[0], np.cumsum(bits == 0) % 2]).astype(np.int64)

    def duration_s(self, tones: Tones) -> float:
        """One symbol for each sign and one more: the outer pulses are whole."""
        return (tones.size + 1) * self.symbol_s

    def baseband(self, tones: Tones, sample_rate_hz: int) -> AnalyticSamples:
        """Sum of raised-cosine pulses ½(1 + cos(πt/T)), |t| < T, one for each sign."""
        signs = np.concatenate([[0.0], 1.0 - 2.0 * tones, [0.0]])
        n_samples = round(self.duration_s(tones) * sample_rate_hz)
        place = np.arange(n_samples) / sample_rate_hz / self.symbol_s
        symbol = np.minimum(place.astype(np.int64), signs.size - 2)
        before, after = signs[symbol], signs[symbol + 1]
        turn = np.cos(np.pi * (place - symbol))
        amplitude = 0.5 * (before + after) + 0.5 * (before - after) * turn
        return np.asarray(amplitude, np.complex128)


PSK31: Final = PlainTextMode(
    name="psk31", recipe=1, window_s=10.0, nominal_start_s=0.5, keying=PhaseKeyer(symbol_s=0.032)
)
"""The mode."""
