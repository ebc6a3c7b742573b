"""What every mode offers: facts of one protocol and pure functions. It knows nothing of noise."""

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np

from solidcopy.modes.layout import Bits, Layout, Tones
from solidcopy.signals.waveform import AnalyticSamples

__all__ = ["Bits", "CodedMode", "Message", "Mode", "ModeFacts", "Tones"]


@dataclass(frozen=True, slots=True)
class Message:
    """What a person would read, and the payload bits that carry it."""

    text: str
    payload: bytes
    """The payload bits, one 0/1 byte each (hashable; `bits()` gives the array)."""

    def bits(self) -> Bits:
        """Payload as (n_bits,) uint8."""
        return np.frombuffer(self.payload, np.uint8)


@dataclass(frozen=True, slots=True)
class ModeFacts:
    """Fixed numbers of a mode."""

    name: str
    recipe: int
    """Raised whenever the samples or bits that this mode makes change."""
    slot_s: float
    nominal_start_s: float
    """From the slot's UTC edge to the start of the transmission. A symbol that only ramps belongs
    to the transmission; so time offsets count from there too."""
    symbol_s: float
    n_symbols: int
    """All symbols of a transmission, those that only ramp included; where their number follows
    from the text, of the longest one."""
    n_tones: int
    tone_spacing_hz: float
    n_payload_bits: int
    """0 where their number follows from the text."""
    is_slotted: bool = True
    """Whether stations keep to slots of the clock; else a slot is a window of the bench."""

    @property
    def duration_s(self) -> float:
        """Length of a transmission in seconds; where it follows from the text, of the longest."""
        return self.n_symbols * self.symbol_s

    @property
    def width_hz(self) -> float:
        """Nominal width: number of tones times their spacing."""
        return self.n_tones * self.tone_spacing_hz

    def reach_hz(self, audio_hz: float) -> tuple[float, float]:
        """From one tone step below the lowest tone to one above the highest."""
        return audio_hz - self.tone_spacing_hz, audio_hz + self.width_hz


class Mode(Protocol):
    """One protocol."""

    @property
    def facts(self) -> ModeFacts:
        """Fixed numbers."""

    def pack(self, text: str) -> Message:
        """Text to payload. Raises MessageError with the reason; never truncates."""

    def unpack(self, payload: Bits) -> str:
        """Payload to the text a person reads. Raises MessageError for an unassigned type."""

    def draw_message(self, generator: np.random.Generator) -> Message:
        """A random valid message as an operator would send (Q calls only)."""

    def encode(self, message: Message) -> Tones:
        """(n_symbols,) all tones of the transmission, synchronisation and ramps included."""

    def lasts_s(self, message: Message) -> float:
        """Length of the transmission that carries a message, in seconds."""

    def modulate(
        self, tones: Tones, *, sample_rate_hz: int, audio_hz: float, phase_rad: float = 0.0
    ) -> AnalyticSamples:
        """Analytic signal whose real part has mean power 0.5 over the whole transmission.

        Args:
            tones: as from `encode`.
            sample_rate_hz: any rate at which the highest tone stays below half of it.
            audio_hz: frequency of the lowest tone.
            phase_rad: carrier phase at the first sample.
        Returns: (round(duration_s * sample_rate_hz),) complex128, or as long as the text asks.
        """


@runtime_checkable
class CodedMode(Mode, Protocol):
    """A mode whose messages all have the same length and are protected by one code."""

    @property
    def layout(self) -> Layout:
        """Places of the symbols, and the code: what a receiver needs."""
