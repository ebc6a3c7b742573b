"""RTTY: teleprinter by frequency-shift keying, 45.45 Bd, 170 Hz (ITU-T S.1; FACTS F2)."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from solidcopy.modes.layout import Bits, Tones
from solidcopy.modes.plain_text import ita2
from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.modes.plain_text.printed import own_line
from solidcopy.signals.waveform import AnalyticSamples

NEW_LINE: Final = "\r\n"
HALVES_PER_CHARACTER: Final = 15
"""One start, five elements and one and a half for the stop, in half elements."""


@dataclass(frozen=True, slots=True)
class TeleprinterKeyer:
    """Mark is the lower tone. The text stands on a line of its own: new lines before and after."""

    symbol_s: float
    shift_hz: float

    @property
    def n_tones(self) -> int:
        """Mark and space."""
        return 2

    @property
    def tone_spacing_hz(self) -> float:
        """The shift."""
        return self.shift_hz

    def unknown_characters(self, text: str) -> list[str]:
        """Characters without a combination, sorted."""
        return ita2.unknown_characters(text)

    def allowed(self) -> str:
        """What can be sent, in words."""
        return "letters, figures, blanks and -?:().,'=/+"

    def bits_of(self, text: str) -> Bits:
        """Five elements for each character or shift, first sent first, mark = 1."""
        values = ita2.combinations_of(NEW_LINE + text + NEW_LINE)
        # The shift to letters comes behind the new line, in front of the text.
        values[: len(NEW_LINE) + 1] = np.roll(values[: len(NEW_LINE) + 1], -1)
        return ita2.elements_of(values).ravel().astype(np.uint8)

    def text_of(self, bits: Bits) -> str:
        """What a printer prints, the longest line of it; it begins with letters."""
        values = bits.reshape(-1, ita2.N_ELEMENTS) @ (1 << np.arange(ita2.N_ELEMENTS))
        return own_line(ita2.printed(values.tolist()))

    def tones_of(self, bits: Bits) -> Tones:
        """Half elements, mark = 0 and space = 1: start (space), five elements, stop (mark)."""
        is_space = 1 - bits.reshape(-1, ita2.N_ELEMENTS).astype(np.int64)
        halves = np.zeros((is_space.shape[0], HALVES_PER_CHARACTER), np.int64)
        halves[:, :2] = 1
        halves[:, 2:12] = np.repeat(is_space, 2, axis=1)
        return halves.ravel()

    def duration_s(self, tones: Tones) -> float:
        """All half elements."""
        return tones.size * self.symbol_s / 2.0

    def baseband(self, tones: Tones, sample_rate_hz: int) -> AnalyticSamples:
        """Unit phasors about the mark; the phase runs on."""
        ends_cycles = np.concatenate([[0.0], np.cumsum(tones * self.shift_hz * self.symbol_s / 2)])
        ends_s = np.arange(tones.size + 1) * self.symbol_s / 2.0
        times_s = np.arange(round(self.duration_s(tones) * sample_rate_hz)) / sample_rate_hz
        return np.asarray(np.exp(2j * np.pi * np.interp(times_s, ends_s, ends_cycles)))


RTTY: Final = PlainTextMode(
    name="rtty",
    recipe=1,
    window_s=7.5,
    nominal_start_s=0.5,
    keying=TeleprinterKeyer(symbol_s=0.022, shift_hz=170.0),
)
"""The mode."""
