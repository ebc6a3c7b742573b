"""A mode made of parts that several share: 77-bit messages, one code, Gaussian-shaped keying."""

from dataclasses import dataclass, field

import numpy as np

from solidcopy.modes.keying import Keying, modulate_tones
from solidcopy.modes.layout import Bits, Layout, Tones
from solidcopy.modes.messages77.drawing import draw_text
from solidcopy.modes.messages77.hashes import KnownCalls
from solidcopy.modes.messages77.packing import pack_text, unpack_payload
from solidcopy.modes.mode import Message, ModeFacts
from solidcopy.signals.waveform import AnalyticSamples


@dataclass(frozen=True, slots=True)
class KeyedMode:
    """The mode. It remembers nothing: calls behind hashes are known only to who hands them over."""

    name: str
    recipe: int
    """Raised whenever the samples or bits that this mode makes change."""
    slot_s: float
    nominal_start_s: float
    keying: Keying
    layout: Layout = field(compare=False)

    @property
    def facts(self) -> ModeFacts:
        """Fixed numbers."""
        return ModeFacts(
            name=self.name,
            recipe=self.recipe,
            slot_s=self.slot_s,
            nominal_start_s=self.nominal_start_s,
            symbol_s=float(self.keying.symbol_s),
            n_symbols=self.keying.n_symbols,
            n_tones=self.keying.n_tones,
            tone_spacing_hz=self.keying.tone_spacing_hz,
            n_payload_bits=self.layout.code.n_payload_bits,
        )

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
        """(n_symbols,) int64 tones, synchronisation and ramps included."""
        return self.layout.tones_of(self.layout.codeword_of(message.bits()))

    def lasts_s(self, message: Message) -> float:
        """The same for all messages."""
        return float(self.keying.duration_s)

    def modulate(
        self, tones: Tones, *, sample_rate_hz: int, audio_hz: float, phase_rad: float = 0.0
    ) -> AnalyticSamples:
        """Analytic signal, mean power 0.5. See `keying.modulate_tones`."""
        return modulate_tones(
            tones,
            self.keying,
            sample_rate_hz=sample_rate_hz,
            audio_hz=audio_hz,
            phase_rad=phase_rad,
        )
