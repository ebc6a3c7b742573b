"""From codeword to tones: Gray mapping and the three synchronisation blocks.

Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory; confirmed by
algebra: neighbouring tones differ in one bit, the block is a Costas array, 3·7 + 58 = 79 symbols
and 58·3 = 174 bits.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.ldpc174.code import N_CODEWORD_BITS
from solidcopy.modes.mode import Bits, Tones

N_SYMBOLS: Final = 79
N_TONES: Final = 8
N_BITS_PER_SYMBOL: Final = 3


def _frozen_numbers(numbers: list[int]) -> NDArray[np.int64]:
    """(n,) int64, unwriteable."""
    array = np.array(numbers, np.int64)
    array.flags.writeable = False
    return array


GRAY_MAP: Final = _frozen_numbers([0, 1, 3, 2, 5, 6, 4, 7])
"""Value of three bits (first sent = 4s place) -> tone. Not the usual reflected Gray code."""

COSTAS: Final = _frozen_numbers([3, 1, 4, 0, 6, 5, 2])
"""Tones of one synchronisation block."""

SYNC_SYMBOLS: Final = _frozen_numbers([*range(7), *range(36, 43), *range(72, 79)])
"""(21,) symbol numbers of the three synchronisation blocks, in order."""

DATA_SYMBOLS: Final = _frozen_numbers([*range(7, 36), *range(43, 72)])
"""(58,) symbol numbers that carry the codeword, in order."""

_BIT_WEIGHTS: Final = _frozen_numbers([4, 2, 1])
_BITS_OF_TONE: Final = _frozen_numbers([int(value) for value in np.argsort(GRAY_MAP)])


def tones_from_codeword(codeword: Bits) -> Tones:
    """All 79 tones of codewords.

    Args:
        codeword: (..., 174) uint8.
    Returns: (..., 79) int64, synchronisation included.
    """
    bits = np.asarray(codeword)
    if bits.shape[-1] != N_CODEWORD_BITS:
        raise ValueError(f"{N_CODEWORD_BITS} bits expected, not {bits.shape[-1]}")
    values = bits.reshape(*bits.shape[:-1], DATA_SYMBOLS.size, N_BITS_PER_SYMBOL) @ _BIT_WEIGHTS
    tones = np.empty((*bits.shape[:-1], N_SYMBOLS), np.int64)
    tones[..., SYNC_SYMBOLS] = np.tile(COSTAS, 3)
    tones[..., DATA_SYMBOLS] = GRAY_MAP[values]
    return tones


def codeword_from_tones(tones: Tones) -> Bits:
    """The codeword that tones carry; the synchronisation symbols are not looked at.

    Args:
        tones: (..., 79) whole numbers 0..7.
    Returns: (..., 174) uint8.
    """
    symbols = np.asarray(tones)
    if symbols.shape[-1] != N_SYMBOLS:
        raise ValueError(f"{N_SYMBOLS} tones expected, not {symbols.shape[-1]}")
    values = _BITS_OF_TONE[symbols[..., DATA_SYMBOLS]]
    bits: Bits = (values[..., None] & _BIT_WEIGHTS != 0).astype(np.uint8)
    return bits.reshape((*symbols.shape[:-1], N_CODEWORD_BITS))
