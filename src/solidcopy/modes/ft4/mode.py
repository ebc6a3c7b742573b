"""FT4: 103 symbols of 4 tones, 20.83 Hz apart, and two ramps, in 5.04 s of a 7.5 s slot.

Source of every number: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from
memory; confirmed by algebra: neighbouring tones differ in one bit, each block is a Costas array,
4·4 + 3·29 = 103 symbols and 87·2 = 174 bits; the scrambling word has 77 bits.

Conventions from memory, shown by no recording at hand: the ramps last one symbol each and hold the
first and the last symbol's tone; the transmission starts 0.5 s after the edge of the slot, the
ramp symbol included, so a time offset of 0 puts the first synchronisation symbol at 0.548 s.
"""

from fractions import Fraction
from typing import Final

import numpy as np

from solidcopy.modes.keyed_mode import KeyedMode
from solidcopy.modes.keying import Keying
from solidcopy.modes.layout import Bits, Layout
from solidcopy.modes.ldpc174.code import LDPC_174_91
from solidcopy.modes.ldpc174.crc import N_PAYLOAD_BITS

_N_SYMBOLS: Final = 105
_SYMBOL_S: Final = Fraction(6, 125)
_FIRST_OF_BLOCKS: Final = (1, 34, 67, 100)
"""Symbol 0 is the rising ramp, symbol 104 the falling one."""

COSTAS_BLOCKS: Final = ((0, 1, 3, 2), (1, 0, 2, 3), (2, 3, 1, 0), (3, 2, 0, 1))
"""Tones of the four synchronisation blocks."""

GRAY_MAP: Final = (0, 1, 3, 2)
"""Value of two bits (first sent = 2s place) -> tone."""

SCRAMBLING_HEX: Final = "4A5E89B4B08A7955BE28"
"""77 bits, then three of padding. They keep a message of many zeros from being one long tone."""


def _scrambling() -> Bits:
    word = np.frombuffer(bytes.fromhex(SCRAMBLING_HEX), np.uint8)
    return np.unpackbits(word)[:N_PAYLOAD_BITS]


def _layout() -> Layout:
    """A ramp, four synchronisation blocks with 29 data symbols between them, a ramp."""
    sync_symbols = np.array(_FIRST_OF_BLOCKS)[:, None] + np.arange(len(COSTAS_BLOCKS[0]))
    known_tones = np.full(_N_SYMBOLS, -1)
    known_tones[sync_symbols] = COSTAS_BLOCKS
    known_tones[[0, -1]] = COSTAS_BLOCKS[0][0], COSTAS_BLOCKS[-1][-1]
    return Layout(
        code=LDPC_174_91,
        scrambling=_scrambling(),
        tone_of_bits=np.array(GRAY_MAP),
        sync_symbols=sync_symbols,
        data_symbols=np.flatnonzero(known_tones < 0),
        known_tones=known_tones,
    )


FT4: Final = KeyedMode(
    name="ft4",
    recipe=1,
    slot_s=7.5,
    nominal_start_s=0.5,
    keying=Keying(n_symbols=_N_SYMBOLS, n_tones=4, symbol_s=_SYMBOL_S, bt=1.0, ramp_s=_SYMBOL_S),
    layout=_layout(),
)
"""The mode."""
