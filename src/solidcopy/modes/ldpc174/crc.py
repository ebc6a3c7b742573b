"""The 14-bit cyclic redundancy check between payload and parity.

Unconfirmed: that the 77 payload bits are extended by zeros to 82 before the division is from
memory and no recording has confirmed it. A wrong convention would be consistent inside this bench
and show only on recordings from the air. It is the first thing to check should one not decode.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.layout import Bits

N_CRC_BITS: Final = 14
N_PAYLOAD_BITS: Final = 77
N_CHECKED_BITS: Final = N_PAYLOAD_BITS + N_CRC_BITS

CRC_POLYNOMIAL: Final = 0x6757
"""x^14+x^13+x^10+x^9+x^8+x^6+x^4+x^2+x+1, leading bit included. From memory.

It holds the factor x+1, so every odd number of wrong bits among the 91 is caught; no pattern of
three or fewer escapes, 272 of weight 4 do: Hamming distance 4 (derived by enumeration).
"""

N_EXTENDED_BITS: Final = 82
"""The payload is followed by zeros up to this length before the division (unconfirmed, above)."""


def _remainder(payload: Bits) -> int:
    """Remainder of the extended payload times x^14, start value 0, bit by bit."""
    register = 0
    n_zeros = N_EXTENDED_BITS - N_PAYLOAD_BITS + N_CRC_BITS
    for bit in [*payload.tolist(), *[0] * n_zeros]:
        register = register << 1 | bit
        if register >> N_CRC_BITS:
            register ^= CRC_POLYNOMIAL
    return register


def _crc_matrix() -> NDArray[np.float32]:
    """Row i: the CRC of the payload whose only one is bit i. A zero start value makes it linear."""
    unit_payloads = np.eye(N_PAYLOAD_BITS, dtype=np.uint8)
    remainders = np.array([_remainder(payload) for payload in unit_payloads])
    places = np.arange(N_CRC_BITS - 1, -1, -1)
    matrix = (remainders[:, None] >> places & 1).astype(np.float32)
    matrix.flags.writeable = False
    return matrix


_CRC_MATRIX: Final = _crc_matrix()


def crc14(payload: Bits) -> Bits:
    """CRC of payloads.

    Args:
        payload: (..., 77) uint8 of 0 and 1, first sent first.
    Returns: (..., 14) uint8, in the order sent.
    Source: from memory, with the reservation in this module's docstring.
    """
    # float32 takes the fast matrix product and counts up to 77 ones exactly.
    n_ones = np.asarray(payload, np.float32) @ _CRC_MATRIX
    return n_ones.astype(np.uint8) & np.uint8(1)


def has_valid_crc(checked_bits: Bits) -> NDArray[np.bool_]:
    """Whether the last 14 of 91 bits are the CRC of the first 77.

    The all-zero word passes (its CRC is 0), so a receiver must refuse it by itself; a random word
    passes with probability 2^-14.

    Args:
        checked_bits: (..., 91) uint8: payload, then CRC.
    Returns: (...) bool.
    """
    bits = np.asarray(checked_bits)
    if bits.shape[-1] != N_CHECKED_BITS:
        raise ValueError(f"{N_CHECKED_BITS} bits expected (payload and CRC), not {bits.shape[-1]}")
    expected = crc14(bits[..., :N_PAYLOAD_BITS])
    return np.asarray(np.all(expected == bits[..., N_PAYLOAD_BITS:], axis=-1))
