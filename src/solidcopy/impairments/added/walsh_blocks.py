"""Characters as Walsh functions over 64 symbols of many tones.

After the openly published description of such a mode (FACTS F5, found; the scrambling word from
memory, the interleaving in our own way): made to occupy the band as such a signal does, not
to be read.
"""

import numpy as np
from numpy.typing import NDArray

N_BLOCK = 64
"""Symbols of a block: the length of a Walsh function."""

SCRAMBLING_WORD = 0xE257E6D0291574EC
SCRAMBLING_STEP = 13
"""Places by which the word is turned for each further character of a block."""


def walsh_signs(characters: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Walsh function of each character, (..., 64), True = -1; the top bit of seven turns it over.

    Source: sign of place k in function r of Sylvester's order = parity of the bits of r AND k.
    """
    common = (characters[..., None] % N_BLOCK) & np.arange(N_BLOCK)
    is_odd = np.bitwise_count(common) % 2 == 1
    return np.asarray(is_odd != (characters[..., None] >= N_BLOCK))


def scrambling(n_bits: int) -> NDArray[np.bool_]:
    """Signs turned over in each character of a block, (n_bits, 64)."""
    word = np.array([SCRAMBLING_WORD >> place & 1 for place in range(N_BLOCK)], dtype=np.bool_)
    return np.stack([np.roll(word, SCRAMBLING_STEP * number) for number in range(n_bits)])


def tones_of(characters: NDArray[np.int64]) -> NDArray[np.int64]:
    """Tones of whole blocks.

    Args:
        characters: (n_blocks, n_bits) 0..127, one for each bit of a symbol.
    Returns: (64 * n_blocks,) 0..2**n_bits - 1. A character's signs walk through the bits of
        the symbols; tones beside each other differ in one bit (Gray).
    """
    n_bits = characters.shape[1]
    signs = walsh_signs(characters) ^ scrambling(n_bits)
    symbol = np.arange(N_BLOCK)
    values = np.zeros((characters.shape[0], N_BLOCK), dtype=np.int64)
    for bit in range(n_bits):
        values += signs[:, (bit + symbol) % n_bits, symbol].astype(np.int64) << bit
    tones = values.copy()
    for shift in range(1, n_bits):
        tones ^= values >> shift
    return tones.ravel()
