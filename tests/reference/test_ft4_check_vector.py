"""A whole FT4 message, tone for tone, and the scrambling word.

The vector was computed from the rules of "The FT4 and FT8 Communication Protocols" (QEX July/August
2020) by a program written apart from this one. The rules are from memory; that the payload is
extended to 82 bits before the CRC is unconfirmed. Marked derived for that reason.
"""

import galois
import numpy as np
import pytest

from solidcopy.modes.ft4.mode import FT4
from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.ldpc174.code import CHECK_POSITIONS
from solidcopy.modes.ldpc174.crc import has_valid_crc

pytestmark = pytest.mark.derived

TEXT = "CQ Q1ABC FN42"
TONES = (
    "0132103311233031311023131232202121023122331233100333121000032212102310212223013003330211121013"
    "323133201"
)
"""103 symbols, ramps left out."""

SCRAMBLING = "01001010010111101000100110110100101100001000101001111001010101011011111000101"
"""As bits; the mode holds it in hexadecimal. From memory in both forms, which agree."""


def as_text(numbers: np.ndarray) -> str:
    return "".join(str(int(number)) for number in numbers)


def test_tones_of_the_general_call() -> None:
    tones = FT4.encode(FT4.pack(TEXT))
    assert as_text(tones[1:-1]) == TONES
    # The ramps hold the tones beside them (from memory).
    assert (tones[0], tones[-1]) == (tones[1], tones[-2])


def test_the_scrambling_word() -> None:
    assert as_text(FT4.layout.scrambling) == SCRAMBLING
    assert len(SCRAMBLING) == FT4.facts.n_payload_bits == 77


def test_the_word_is_added_before_crc_and_code() -> None:
    message = FT4.pack(TEXT)
    codeword = FT4.layout.codeword_in(FT4.encode(message))
    word = np.array([int(bit) for bit in SCRAMBLING], np.uint8)
    assert np.array_equal(codeword[:77], message.bits() ^ word)
    assert has_valid_crc(codeword[:91])
    checks = np.zeros((83, 174), np.uint8)
    for row, positions in zip(checks, CHECK_POSITIONS, strict=True):
        row[positions[positions >= 0]] = 1
    # galois: arithmetic over GF(2).
    assert not np.any(galois.GF2(checks) @ galois.GF2(codeword))


def test_payload_and_text_come_back() -> None:
    message = FT4.pack(TEXT)
    payload = FT4.layout.payload_of(FT4.layout.codeword_in(FT4.encode(message)))
    assert np.array_equal(payload, message.bits())
    assert FT4.unpack(payload) == TEXT


def test_both_modes_carry_the_same_payload() -> None:
    assert FT4.pack(TEXT) == FT8.pack(TEXT)
    assert not np.array_equal(
        FT4.layout.codeword_of(FT4.pack(TEXT).bits()), FT8.layout.codeword_of(FT8.pack(TEXT).bits())
    )


def test_a_message_of_zeros_is_no_long_tone() -> None:
    # What the word is for: without it all 87 data tones would be equal. In random ones a run of six
    # or more has a chance of 6 % (about 82 · ¾ · ¼⁵).
    tones = FT4.layout.tones_of(FT4.layout.codeword_of(np.zeros(77, np.uint8)))
    changes = np.flatnonzero(np.diff(tones)) + 1
    assert np.diff(changes).max() <= 5
    plain = FT8.layout.tones_of(FT8.layout.codeword_of(np.zeros(77, np.uint8)))
    assert not plain[FT8.layout.data_symbols].any()
