"""Whole messages, bit for bit: payload, CRC, parity and tones.

The vectors were computed from the rules of "The FT4 and FT8 Communication Protocols" (QEX
July/August 2020) by a program written apart from this one. The rules are from memory; that the
payload is extended to 82 bits before the CRC is unconfirmed. Marked derived for that reason.
"""

import numpy as np
import pytest

from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.ldpc174.code import LDPC_174_91
from solidcopy.modes.ldpc174.crc import crc14, has_valid_crc

pytestmark = pytest.mark.derived

VECTORS = {
    "CQ Q1ABC FN42": (
        "00000000000000000000000000100000010101101111000110110100100010100001100110001",
        "01000000011001",
        "3140652000000001006224166106021535013140652575412651722124132510502315603140652",
    ),
    "Q1ABC Q2XYZ -15": (
        "00001010110111100011011010010000010101110011101000100111100111111010100100001",
        "10001010011010",
        "3140652036670445506257311717461020613140652613114770412026671355046560433140652",
    ),
    "Q1ABC Q2XYZ RR73": (
        "00001010110111100011011010010000010101110011101000100111100111111010010011001",
        "11110100100001",
        "3140652036670445506257311717455427333140652060672671344053234531104467523140652",
    ),
    "BENCH TEST 73": (
        "00101000011010010101001010110100000000010010000110011001111010100110100000000",
        "10010001010110",
        "3140652130456336600055154246160011063140652236744111120146137476152254373140652",
    ),
    "123456789ABCDEF012": (
        "00100100011010001010110011110001001101010111100110111101111000000010010101000",
        "01100100011010",
        "3140652110453657532367167240056304313140652620633153646703256576437647343140652",
    ),
}
"""Text: 77 payload bits, 14 of CRC, 79 tones."""

CQ_PARITY = "11100110001011101100001111011011001011110001010011100001000100000011010001100101000"


def as_text(numbers: np.ndarray) -> str:
    return "".join(str(int(number)) for number in numbers)


@pytest.mark.parametrize("text", VECTORS)
def test_payload_crc_and_tones(text: str) -> None:
    payload, crc, tones = VECTORS[text]
    message = FT8.pack(text)
    assert as_text(message.bits()) == payload
    assert as_text(crc14(message.bits())) == crc
    assert as_text(FT8.encode(message)) == tones
    assert FT8.unpack(message.bits()) == message.text == text


def test_parity_of_the_general_call() -> None:
    codeword = LDPC_174_91.encode(FT8.pack("CQ Q1ABC FN42").bits())
    assert as_text(codeword[91:]) == CQ_PARITY


def test_all_vectors_at_once_as_a_batch() -> None:
    payloads = np.array([[int(bit) for bit in vector[0]] for vector in VECTORS.values()], np.uint8)
    codewords = LDPC_174_91.encode(payloads)
    tones = FT8.layout.tones_of(codewords)
    assert [as_text(row) for row in tones] == [vector[2] for vector in VECTORS.values()]
    assert np.array_equal(FT8.layout.codeword_in(tones), codewords)
    assert has_valid_crc(codewords[:, :91]).all()


def test_first_25_data_tones_need_neither_crc_nor_parity() -> None:
    payload, _, tones = VECTORS["BENCH TEST 73"]
    from_payload = np.zeros(174, np.uint8)
    from_payload[:77] = [int(bit) for bit in payload]
    data_tones = as_text(FT8.layout.tones_of(from_payload))[7:32]
    assert data_tones == tones[7:32]
