"""What lies where in a transmission: all that a receiver knows of a mode beforehand."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bits = NDArray[np.uint8]
"""0/1 bytes, most significant (first sent) first."""

Tones = NDArray[np.int64]
"""Tone numbers, one per symbol, 0 = lowest tone."""


@dataclass(frozen=True, slots=True, eq=False)
class BlockCode:
    """A linear code whose codewords begin with the payload and its check bits."""

    generator: Bits
    """(n_checked, n_bits): payload and its CRC to codeword."""
    payload_generator: Bits
    """(n_payload, n_bits): payload to codeword, the CRC folded in."""
    check_positions: NDArray[np.int16]
    """(n_checks, n_highest_weight) codeword positions of each sparse check, padded with -1."""

    @property
    def n_payload_bits(self) -> int:
        """Length of the payload."""
        return int(self.payload_generator.shape[0])

    @property
    def n_bits(self) -> int:
        """Length of a codeword."""
        return int(self.payload_generator.shape[1])

    def encode(self, payload: Bits) -> Bits:
        """Codewords of payloads.

        Args:
            payload: (..., n_payload) uint8 of 0 and 1, first sent first.
        Returns: (..., n_bits) uint8: payload, CRC, parity.
        """
        # float32 takes the fast matrix product and counts the ones of a payload exactly.
        n_ones = np.asarray(payload, np.float32) @ self.payload_generator.astype(np.float32)
        return n_ones.astype(np.uint8) & np.uint8(1)


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Symbols of known tones, symbols that carry bits, and which bits those are.

    Symbols are numbered from the start of the transmission. One that only ramps counts: it holds
    the tone of its neighbour.
    """

    code: BlockCode
    scrambling: Bits
    """(n_payload,) added to the payload, modulo 2, before CRC and code; all zero for none."""
    tone_of_bits: Tones
    """(n_tones,) Gray map: value of one symbol's bits (first sent = highest place) to tone."""
    sync_symbols: NDArray[np.int64]
    """(n_blocks, n_per_block) symbol numbers of the synchronisation blocks."""
    data_symbols: NDArray[np.int64]
    """(n_data,) symbol numbers that carry the codeword, in order."""
    known_tones: Tones
    """(n_symbols,) the tone of every symbol that carries no bits, -1 for data."""

    def __post_init__(self) -> None:
        if not np.array_equal(np.flatnonzero(self.known_tones < 0), self.data_symbols):
            raise ValueError("every symbol carries either bits or a known tone")
        if self.data_symbols.size * self.n_bits_per_symbol != self.code.n_bits:
            raise ValueError("the data symbols do not hold one codeword")
        if self.scrambling.shape != (self.code.n_payload_bits,):
            raise ValueError("the scrambling word is as long as the payload")
        for table in (self.tone_of_bits, self.sync_symbols, self.data_symbols, self.known_tones):
            table.flags.writeable = False
        self.scrambling.flags.writeable = False

    @property
    def n_symbols(self) -> int:
        """All symbols of a transmission."""
        return self.known_tones.size

    @property
    def n_bits_per_symbol(self) -> int:
        """Bits that a data symbol carries."""
        return self.tone_of_bits.size.bit_length() - 1

    @property
    def sync_tones(self) -> Tones:
        """(n_blocks, n_per_block) tones of the synchronisation blocks."""
        return np.asarray(self.known_tones[self.sync_symbols])

    @property
    def bits_of_tone(self) -> Bits:
        """(n_tones, n_bits_per_symbol), the Gray map read backwards."""
        values = np.argsort(self.tone_of_bits)
        return np.asarray(values[:, None] & self._bit_weights != 0, np.uint8)

    @property
    def _bit_weights(self) -> NDArray[np.int64]:
        return np.left_shift(1, np.arange(self.n_bits_per_symbol - 1, -1, -1))

    def codeword_of(self, payload: Bits) -> Bits:
        """(..., n_bits) codewords as sent of (..., n_payload) payloads: scrambled, then coded."""
        return self.code.encode(np.asarray(payload, np.uint8) ^ self.scrambling)

    def payload_of(self, codeword: Bits) -> Bits:
        """(..., n_payload) payloads of (..., n_bits) codewords as sent; checks nothing."""
        return np.asarray(codeword, np.uint8)[..., : self.scrambling.size] ^ self.scrambling

    def tones_of(self, codeword: Bits) -> Tones:
        """All tones of transmissions.

        Args:
            codeword: (..., n_bits) uint8.
        Returns: (..., n_symbols) int64, synchronisation included.
        """
        bits = np.asarray(codeword)
        if bits.shape[-1] != self.code.n_bits:
            raise ValueError(f"{self.code.n_bits} bits expected, not {bits.shape[-1]}")
        values = bits.reshape(*bits.shape[:-1], -1, self.n_bits_per_symbol) @ self._bit_weights
        tones = np.tile(self.known_tones, (*bits.shape[:-1], 1))
        tones[..., self.data_symbols] = self.tone_of_bits[values]
        return tones

    def codeword_in(self, tones: Tones) -> Bits:
        """The codeword that tones carry; symbols of known tones are not looked at.

        Args:
            tones: (..., n_symbols) whole numbers 0..n_tones - 1.
        Returns: (..., n_bits) uint8.
        """
        symbols = np.asarray(tones)
        if symbols.shape[-1] != self.n_symbols:
            raise ValueError(f"{self.n_symbols} tones expected, not {symbols.shape[-1]}")
        bits = self.bits_of_tone[symbols[..., self.data_symbols]]
        return bits.reshape(*symbols.shape[:-1], self.code.n_bits)
