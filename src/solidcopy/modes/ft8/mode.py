"""FT8: 79 symbols of 8 tones, 6.25 Hz apart, in 12.64 s of a 15 s slot.

Source of every number: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from
memory; confirmed by algebra: neighbouring tones differ in one bit, the block is a Costas array,
3·7 + 58 = 79 symbols and 58·3 = 174 bits.
"""

from fractions import Fraction
from typing import Final

import numpy as np

from solidcopy.modes.keyed_mode import KeyedMode
from solidcopy.modes.keying import Keying
from solidcopy.modes.layout import Layout
from solidcopy.modes.ldpc174.code import LDPC_174_91
from solidcopy.modes.ldpc174.crc import N_PAYLOAD_BITS

_N_SYMBOLS: Final = 79
_SYMBOL_S: Final = Fraction(4, 25)

COSTAS: Final = (3, 1, 4, 0, 6, 5, 2)
"""Tones of each synchronisation block."""

GRAY_MAP: Final = (0, 1, 3, 2, 5, 6, 4, 7)
"""Value of three bits (first sent = 4s place) -> tone. Not the usual reflected Gray code."""


def _layout() -> Layout:
    """Synchronisation, 29 data symbols, synchronisation, 29, synchronisation."""
    sync_symbols = np.array([0, 36, 72])[:, None] + np.arange(len(COSTAS))
    known_tones = np.full(_N_SYMBOLS, -1)
    known_tones[sync_symbols] = COSTAS
    return Layout(
        code=LDPC_174_91,
        scrambling=np.zeros(N_PAYLOAD_BITS, np.uint8),
        tone_of_bits=np.array(GRAY_MAP),
        sync_symbols=sync_symbols,
        data_symbols=np.flatnonzero(known_tones < 0),
        known_tones=known_tones,
    )


FT8: Final = KeyedMode(
    name="ft8",
    recipe=1,
    slot_s=15.0,
    nominal_start_s=0.5,
    keying=Keying(
        n_symbols=_N_SYMBOLS, n_tones=8, symbol_s=_SYMBOL_S, bt=2.0, ramp_s=_SYMBOL_S / 8
    ),
    layout=_layout(),
)
"""The mode."""
