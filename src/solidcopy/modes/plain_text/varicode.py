"""The alphabet of ITU-R M.2034 (02/2013): a code of variable length for the 128 of ASCII.

From memory, unchecked against the document's text. Its rule is checked: every code begins and
ends with 1 and holds no "00", which separates characters; the set is that of FACTS F3.
"""

import numpy as np
from numpy.typing import NDArray

GAP = "00"
"""Sent after every character."""

_CODES = (
    # 0 to 31: control characters
    "1010101011 1011011011 1011101101 1101110111 1011101011 1101011111 1011101111 1011111101 "
    "1011111111 11101111 11101 1101101111 1011011101 11111 1101110101 1110101011 "
    "1011110111 1011110101 1110101101 1110101111 1101011011 1101101011 1101101101 1101010111 "
    "1101111011 1101111101 1110110111 1101010101 1101011101 1110111011 1011111011 1101111111 "
    # blank ! " # $ % & ' ( ) * + , - . /
    "1 111111111 101011111 111110101 111011011 1011010101 1010111011 101111111 "
    "11111011 11110111 101101111 111011111 1110101 110101 1010111 110101111 "
    # 0 to 9 : ; < = > ?
    "10110111 10111101 11101101 11111111 101110111 101011011 101101011 110101101 "
    "110101011 110110111 11110101 110111101 111101101 1010101 111010111 1010101111 "
    # @ A to O
    "1010111101 1111101 11101011 10101101 10110101 1110111 11011011 11111101 "
    "101010101 1111111 111111101 101111101 11010111 10111011 11011101 10101011 "
    # P to Z [ \ ] ^ _
    "11010101 111011101 10101111 1101111 1101101 101010111 110110101 101011101 "
    "101110101 101111011 1010101101 111110111 111101111 111111011 1010111111 101101101 "
    # ` a to o
    "1011011111 1011 1011111 101111 101101 11 111101 1011011 "
    "101011 1101 111101011 10111111 11011 111011 1111 111 "
    # p to z { | } ~ delete
    "111111 110111111 10101 10111 101 110111 1111011 1101011 "
    "11011111 1011101 111010101 1010110111 110111011 1010110101 1011010111 1110110101"
)

CODE = {chr(place): code for place, code in enumerate(_CODES.split())}
"""Code of each character, as "0" and "1" in the order of sending."""


def bits_of(text: str) -> NDArray[np.bool_]:
    """A text as bits, the gap after each character included, (n_bits,).

    Args:
        text: ASCII characters.
    """
    joined = "".join(CODE[character] + GAP for character in text)
    return np.asarray(np.frombuffer(joined.encode(), dtype=np.uint8) == ord("1"))


_CHARACTER_OF = {code: character for character, code in CODE.items()}


def printed(bits: NDArray[np.uint8]) -> str:
    """What is printed of bits that may begin and end anywhere; unknown codes print nothing.

    Args:
        bits: (n_bits,) 0/1 in the order of sending.
    """
    joined = "".join("1" if bit else "0" for bit in bits.tolist())
    # A character counts only once the gap after it has come.
    codes = joined[: joined.rfind(GAP) + len(GAP)].split(GAP) if GAP in joined else []
    return "".join(_CHARACTER_OF.get(code.strip("0"), "") for code in codes)
