"""What the receiver knows of a mode beforehand: places of symbols, and the code."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.mode import Bits, CodedMode, ModeFacts, Tones

LONGEST_BLOCK_S = 0.5
"""A steady path and a quiet oscillator hold their phase about that long."""
MOST_BLOCK_BITS = 12
"""All sequences of a block are tried."""


@dataclass(frozen=True, slots=True, eq=False)
class Framing:
    """Fixed layout of a transmission."""

    facts: ModeFacts
    sync_symbols: NDArray[np.int64]
    """(n_blocks, n_per_block) symbol numbers of the synchronisation blocks."""
    sync_tones: Tones
    """(n_blocks, n_per_block) their tones."""
    data_symbols: NDArray[np.int64]
    """(n_data,) symbol numbers that carry the codeword, in order."""
    bits_of_tone: Bits
    """(n_tones, n_bits_per_symbol)."""
    known_tones: Tones
    """(n_symbols,) the tone of a synchronisation symbol, -1 for data."""
    first_bits: NDArray[np.int64]
    """(n_symbols,) place of a symbol's first bit in the codeword, -1 if it carries none."""
    generator: Bits
    """(n_checked, n_bits): payload and CRC to codeword."""
    payload_generator: Bits
    """(n_payload, n_bits): payload to codeword, the CRC folded in."""
    check_positions: NDArray[np.int16]
    """(n_checks, n_highest_weight), padded with -1."""

    @property
    def block_lengths(self) -> tuple[int, ...]:
        """Numbers of symbols taken together with one unknown phase, ascending.

        The longest is what `LONGEST_BLOCK_S` and `MOST_BLOCK_BITS` allow: FT8 1, 2, 3; FT4 1, 2,
        4, 6.
        """
        by_time = int(LONGEST_BLOCK_S / self.facts.symbol_s)
        longest = min(by_time, MOST_BLOCK_BITS // self.bits_of_tone.shape[1])
        return tuple(sorted({1, 2, 2 * longest // 3, longest}))

    @property
    def n_bits(self) -> int:
        """Length of the codeword."""
        return int(self.generator.shape[1])

    def is_word(self, bits: Bits) -> bool:
        """Whether bits are a codeword with a right CRC. The all-zero word is refused."""
        payload = bits[: self.facts.n_payload_bits]
        if not payload.any():
            return False
        n_ones = payload.astype(np.float32) @ self.payload_generator.astype(np.float32)
        return bool(np.array_equal(n_ones.astype(np.int64) & 1, bits))

    def tones_of(self, bits: Bits) -> Tones:
        """(..., n_symbols) tones of codewords (..., n_bits)."""
        n_each = self.bits_of_tone.shape[1]
        weights = 1 << np.arange(n_each - 1, -1, -1)
        tone_of_value = np.argsort(self.bits_of_tone @ weights)
        values = bits.reshape(*bits.shape[:-1], -1, n_each) @ weights
        tones = np.empty((*bits.shape[:-1], self.known_tones.size), np.int64)
        tones[...] = self.known_tones
        tones[..., self.data_symbols] = tone_of_value[values]
        return tones


def blocks_of(data_symbols: NDArray[np.int64], n_members: int) -> NDArray[np.int64]:
    """Blocks of neighbouring symbols that cover all data symbols once.

    Args:
        data_symbols: (n_data,) ascending symbol numbers, in runs.
        n_members: symbols in a block.
    Returns: (n_blocks, n_members). A run that does not divide is filled up with the
        synchronisation symbols after it.
    """
    breaks = np.flatnonzero(np.diff(data_symbols) > 1) + 1
    runs = np.split(data_symbols, breaks)
    firsts = np.concatenate([np.arange(run[0], run[-1] + 1, n_members) for run in runs])
    return np.asarray(firsts[:, None] + np.arange(n_members), np.int64)


def framing_of(mode: CodedMode) -> Framing:
    """The layout that belongs to a mode, with what the receiver reads off it."""
    layout = mode.layout
    first_bits = np.full(layout.n_symbols, -1, np.int64)
    n_data_bits = layout.data_symbols.size * layout.n_bits_per_symbol
    first_bits[layout.data_symbols] = np.arange(0, n_data_bits, layout.n_bits_per_symbol)
    return Framing(
        facts=mode.facts,
        sync_symbols=layout.sync_symbols,
        sync_tones=layout.sync_tones,
        data_symbols=layout.data_symbols,
        bits_of_tone=layout.bits_of_tone,
        known_tones=layout.known_tones,
        first_bits=first_bits,
        generator=layout.code.generator,
        payload_generator=layout.code.payload_generator,
        check_positions=layout.code.check_positions,
    )
