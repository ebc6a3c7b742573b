"""FT8 as a mode of the bench."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from solidcopy.modes.ft8.symbols import N_SYMBOLS, N_TONES, tones_from_codeword
from solidcopy.modes.ft8.waveform import SYMBOL_S, TONE_SPACING_HZ, modulate_tones
from solidcopy.modes.ldpc174.code import encode_codeword
from solidcopy.modes.ldpc174.crc import N_PAYLOAD_BITS
from solidcopy.modes.messages77.drawing import draw_text
from solidcopy.modes.messages77.hashes import KnownCalls
from solidcopy.modes.messages77.packing import pack_text, unpack_payload
from solidcopy.modes.mode import Bits, Message, ModeFacts, Tones
from solidcopy.signals.waveform import AnalyticSamples

FT8_FACTS: Final = ModeFacts(
    name="ft8",
    recipe=1,
    slot_s=15.0,
    nominal_start_s=0.5,
    symbol_s=float(SYMBOL_S),
    n_symbols=N_SYMBOLS,
    n_tones=N_TONES,
    tone_spacing_hz=TONE_SPACING_HZ,
    n_payload_bits=N_PAYLOAD_BITS,
)
"""Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory."""


@dataclass(frozen=True, slots=True)
class FT8:
    """The mode. It holds nothing: calls behind hashes are known only to who hands them over."""

    @property
    def facts(self) -> ModeFacts:
        """Fixed numbers."""
        return FT8_FACTS

    def pack(self, text: str) -> Message:
        """Text to payload; lower case becomes upper case. See `packing.pack_text`."""
        return pack_text(text)

    def unpack(self, payload: Bits, known_calls: KnownCalls | None = None) -> str:
        """Payload (77,) to text; hashes read `<...>` unless `known_calls` names them."""
        return unpack_payload(payload, known_calls)

    def draw_message(self, generator: np.random.Generator) -> Message:
        """A random message of an ordinary contact between Q calls."""
        return pack_text(draw_text(generator))

    def encode(self, message: Message) -> Tones:
        """(79,) int64 tones, synchronisation included."""
        return tones_from_codeword(encode_codeword(message.bits()))

    def modulate(
        self, tones: Tones, *, sample_rate_hz: int, audio_hz: float, phase_rad: float = 0.0
    ) -> AnalyticSamples:
        """Analytic signal, mean power 0.5. See `waveform.modulate_tones`."""
        return modulate_tones(
            tones, sample_rate_hz=sample_rate_hz, audio_hz=audio_hz, phase_rad=phase_rad
        )
