"""A mode that sends a text as it stands, and what each such mode makes of it.

These modes keep to no slots. On the bench each trial is one window of fixed length with one
transmission in it; the transmission is as long as its text asks. A receiver knows the window and
searches it. Letters have one case: the text is read in upper case.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from solidcopy.errors import MessageError, PlanError
from solidcopy.modes.layout import Bits, Tones
from solidcopy.modes.messages77.drawing import draw_text
from solidcopy.modes.mode import Message, ModeFacts
from solidcopy.signals.waveform import AnalyticSamples

LATEST_S = 0.7
"""Room for starts behind the nominal one at the end of the window."""


class TextKeying(Protocol):
    """How a text becomes a signal."""

    @property
    def symbol_s(self) -> float:
        """Length of the shortest symbol of information."""

    @property
    def n_tones(self) -> int:
        """Tones that take turns."""

    @property
    def tone_spacing_hz(self) -> float:
        """Between tones; of a single one, half the width that it takes up."""

    def unknown_characters(self, text: str) -> list[str]:
        """Characters of an upper-case text that cannot be sent, sorted."""

    def allowed(self) -> str:
        """What can be sent, in words."""

    def bits_of(self, text: str) -> Bits:
        """An upper-case text without unknown characters as (n_bits,) 0/1."""

    def text_of(self, bits: Bits) -> str:
        """The text that bits carry, read as a receiver prints it."""

    def tones_of(self, bits: Bits) -> Tones:
        """All symbols that are sent, (n_symbols,) whole numbers."""

    def duration_s(self, tones: Tones) -> float:
        """Length of a transmission, its edges included."""

    def baseband(self, tones: Tones, sample_rate_hz: int) -> AnalyticSamples:
        """About the lowest tone, any power, (round(duration_s * sample_rate_hz),)."""


@dataclass(frozen=True, slots=True)
class PlainTextMode:
    """The mode."""

    name: str
    recipe: int
    """Raised whenever the samples or bits that this mode makes change."""
    window_s: float
    nominal_start_s: float
    keying: TextKeying

    @property
    def facts(self) -> ModeFacts:
        """Fixed numbers; of symbols, those of the longest transmission."""
        longest_s = self.window_s - self.nominal_start_s - LATEST_S
        return ModeFacts(
            name=self.name,
            recipe=self.recipe,
            slot_s=self.window_s,
            nominal_start_s=self.nominal_start_s,
            symbol_s=self.keying.symbol_s,
            n_symbols=math.floor(longest_s / self.keying.symbol_s),
            n_tones=self.keying.n_tones,
            tone_spacing_hz=self.keying.tone_spacing_hz,
            n_payload_bits=0,
            is_slotted=False,
        )

    def pack(self, text: str) -> Message:
        """Text to bits; blanks are sent once, lower case becomes upper case."""
        words = " ".join(text.upper().split())
        name = self.name
        if not words:
            raise MessageError(f"{name}: the text is empty; give at least one letter to send")
        unknown = self.keying.unknown_characters(words)
        if unknown:
            raise MessageError(f'{name} cannot send "{unknown[0]}"; it has {self.keying.allowed()}')
        message = Message(words, self.keying.bits_of(words).astype(np.uint8).tobytes())
        asked_s = self.lasts_s(message)
        if asked_s > self.facts.duration_s:
            raise MessageError(
                f'"{words}" takes {asked_s:.1f} s in {name}; the window of {self.window_s:g} s has '
                f"room for {self.facts.duration_s:.1f} s; give a shorter text"
            )
        return message

    def unpack(self, payload: Bits) -> str:
        """Bits to the text a person reads."""
        return self.keying.text_of(payload)

    def draw_message(self, generator: np.random.Generator) -> Message:
        """A random message of an ordinary contact between Q calls: the texts that FT8 gets."""
        return self.pack(draw_text(generator))

    def encode(self, message: Message) -> Tones:
        """(n_symbols,) all symbols of the transmission."""
        return self.keying.tones_of(message.bits())

    def lasts_s(self, message: Message) -> float:
        """As long as the text asks."""
        return self.keying.duration_s(self.encode(message))

    def modulate(
        self, tones: Tones, *, sample_rate_hz: int, audio_hz: float, phase_rad: float = 0.0
    ) -> AnalyticSamples:
        """Analytic signal whose real part has mean power 0.5 over the transmission, its pauses
        included. Raises PlanError if it does not fit between 0 Hz and half the sample rate."""
        facts = self.facts
        low_hz, high_hz = facts.reach_hz(audio_hz)
        if low_hz < 0.0 or high_hz > sample_rate_hz / 2.0:
            raise PlanError(
                f"audio_hz: {audio_hz:g} Hz does not fit {self.name} at a sample rate of "
                f"{sample_rate_hz} Hz; allowed is {facts.tone_spacing_hz:g} to "
                f"{sample_rate_hz / 2.0 - facts.width_hz:g} Hz"
            )
        baseband = self.keying.baseband(tones, sample_rate_hz)
        mean = float(np.vdot(baseband, baseband).real) / baseband.size
        turns = audio_hz * np.arange(baseband.size) / sample_rate_hz
        carrier = np.exp(2j * np.pi * np.mod(turns, 1.0) + 1j * phase_rad)
        return np.asarray(baseband * carrier / math.sqrt(mean))
