"""A payload as one whole number, and the fields in it, most significant (first sent) first."""

from dataclasses import dataclass

import numpy as np

from solidcopy.modes.ldpc174.crc import N_PAYLOAD_BITS
from solidcopy.modes.mode import Bits

_DIGITS_TO_BITS = bytes.maketrans(b"01", b"\x00\x01")


@dataclass(frozen=True, slots=True)
class Packed:
    """One message type's answer: the fields in front of the type bits, and the canonical text."""

    number: int
    text: str


def join_fields(values: tuple[int, ...], widths: tuple[int, ...]) -> int:
    """Put fields of `widths` bits behind each other. Raises ValueError if one does not fit."""
    number = 0
    for value, width in zip(values, widths, strict=True):
        if not 0 <= value < 1 << width:
            raise ValueError(f"{value} does not fit {width} bits")
        number = number << width | value
    return number


def split_fields(number: int, widths: tuple[int, ...]) -> tuple[int, ...]:
    """Inverse of `join_fields`."""
    values = []
    for width in reversed(widths):
        values.append(number & (1 << width) - 1)
        number >>= width
    return tuple(reversed(values))


def payload_bytes(number: int) -> bytes:
    """The 77 bits of a number, one 0/1 byte each."""
    return format(number, f"0{N_PAYLOAD_BITS}b").encode().translate(_DIGITS_TO_BITS)


def payload_number(payload: Bits) -> int:
    """The number whose 77 bits are given. Raises ValueError for another length or value."""
    bits = np.asarray(payload, np.uint8)
    if bits.shape != (N_PAYLOAD_BITS,) or bits.max() > 1:
        raise ValueError(f"({N_PAYLOAD_BITS},) bits of 0 and 1 expected, got {bits.shape}")
    return int.from_bytes(np.packbits(bits).tobytes(), "big") >> -N_PAYLOAD_BITS % 8
