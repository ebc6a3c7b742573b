"""The LDPC(174,91) code: 77 payload bits, 14 of CRC, 83 of parity.

Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020) and its companion data,
from memory, confirmed by algebra (published/ says how). Carries crc.py's reservation.
"""

from importlib import resources
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.layout import Bits, BlockCode
from solidcopy.modes.ldpc174.crc import N_CHECKED_BITS, N_PAYLOAD_BITS, crc14

N_CODEWORD_BITS: Final = 174
N_PARITY_BITS: Final = N_CODEWORD_BITS - N_CHECKED_BITS
N_HIGHEST_CHECK_WEIGHT: Final = 7

_Scalar = TypeVar("_Scalar", bound=np.generic)


def _frozen(table: NDArray[_Scalar]) -> NDArray[_Scalar]:
    """The same table, made unwriteable."""
    table.flags.writeable = False
    return table


def _table_lines(name: str) -> list[str]:
    """Lines of a published table without its comments."""
    text = resources.files("solidcopy.modes.ldpc174.published").joinpath(name).read_text("ascii")
    return [line for line in text.splitlines() if not line.startswith("#")]


def _read_parity_rows() -> Bits:
    """Hex rows of 92 bits, the last of which is padding."""
    rows = [bytes.fromhex(line + "0") for line in _table_lines("parity_rows.txt")]
    bits = np.unpackbits(np.frombuffer(b"".join(rows), np.uint8).reshape(N_PARITY_BITS, -1), axis=1)
    return np.ascontiguousarray(bits[:, :N_CHECKED_BITS])


def _read_check_positions() -> NDArray[np.int16]:
    """Positions as printed count from 1."""
    positions = np.full((N_PARITY_BITS, N_HIGHEST_CHECK_WEIGHT), -1, np.int16)
    for row, line in zip(positions, _table_lines("sparse_checks.txt"), strict=True):
        ones = [int(position) - 1 for position in line.split()]
        row[: len(ones)] = ones
    return positions


PARITY_ROWS: Final[Bits] = _frozen(_read_parity_rows())
"""(83, 91) uint8: which systematic bits enter each parity bit."""

CHECK_POSITIONS: Final[NDArray[np.int16]] = _frozen(_read_check_positions())
"""(83, 7) int16: zero-based codeword positions of each sparse check, padded with -1."""

GENERATOR_91: Final[Bits] = _frozen(
    np.concatenate([np.eye(N_CHECKED_BITS, dtype=np.uint8), PARITY_ROWS.T], axis=1)
)
"""(91, 174) uint8, systematic: checked bits (payload and CRC) to codeword."""

_PAYLOAD_TO_CHECKED: Final[Bits] = np.concatenate(
    [
        np.eye(N_PAYLOAD_BITS, dtype=np.uint8),
        crc14(np.eye(N_PAYLOAD_BITS, dtype=np.uint8)),
    ],
    axis=1,
)

GENERATOR_77: Final[Bits] = _frozen(_PAYLOAD_TO_CHECKED @ GENERATOR_91 & np.uint8(1))
"""(77, 174) uint8, systematic: payload to codeword, the CRC folded in."""

LDPC_174_91: Final = BlockCode(
    generator=GENERATOR_91, payload_generator=GENERATOR_77, check_positions=CHECK_POSITIONS
)
