"""International Telegraph Alphabet No. 2, ITU-T S.1: five elements for a character.

Values with the element sent first as the ones place (FACTS F2, from memory; the letters are
checked to be a permutation). Figures from memory, unchecked, without those of national use.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

N_ELEMENTS = 5

LETTERS = {
    "A": 0x03, "B": 0x19, "C": 0x0E, "D": 0x09, "E": 0x01, "F": 0x0D, "G": 0x1A, "H": 0x14,
    "I": 0x06, "J": 0x0B, "K": 0x0F, "L": 0x12, "M": 0x1C, "N": 0x0C, "O": 0x18, "P": 0x16,
    "Q": 0x17, "R": 0x0A, "S": 0x05, "T": 0x10, "U": 0x07, "V": 0x1E, "W": 0x13, "X": 0x1D,
    "Y": 0x15, "Z": 0x11,
}  # fmt: skip

FIGURES = {
    "-": "A", "?": "B", ":": "C", "3": "E", "8": "I", "(": "K", ")": "L", ".": "M", ",": "N",
    "9": "O", "0": "P", "1": "Q", "4": "R", "'": "S", "5": "T", "7": "U", "=": "V", "2": "W",
    "/": "X", "6": "Y", "+": "Z",
}  # fmt: skip
"""Each figure, and the letter whose combination it shares."""

EITHER = {" ": 0x04, "\r": 0x08, "\n": 0x02}
"""The same in both cases."""

TO_LETTERS, TO_FIGURES = 0x1F, 0x1B
"""Shifts: what follows is read as letters, or as figures."""


def unknown_characters(text: str) -> list[str]:
    """Characters of an upper-case text for which there is no combination, sorted."""
    return sorted(set(text) - set(LETTERS) - set(FIGURES) - set(EITHER))


def combinations_of(text: str) -> NDArray[np.int64]:
    """A text as values 0..31, shifts put in where needed and "letters" at its start.

    Args:
        text: upper case, without unknown characters.
    """
    values, shift = [TO_LETTERS], TO_LETTERS
    for character in text:
        if character in EITHER:
            values.append(EITHER[character])
            continue
        needed = TO_LETTERS if character in LETTERS else TO_FIGURES
        if needed != shift:
            values.append(needed)
            shift = needed
        values.append(LETTERS[FIGURES.get(character, character)])
    return np.array(values, dtype=np.int64)


def elements_of(values: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(n_values,) 0..31 as (n_values, 5) elements in the order of sending, True = mark."""
    return np.asarray((values[:, None] >> np.arange(N_ELEMENTS)) & 1 == 1)


def printed(values: Iterable[int]) -> str:
    """What a printer prints that begins with letters; what has no character prints nothing."""
    text, shift = "", TO_LETTERS
    for value in values:
        if value in (TO_LETTERS, TO_FIGURES):
            shift = value
        else:
            text += (_LETTER_OF if shift == TO_LETTERS else _FIGURE_OF).get(value, "")
    return text


_EITHER_OF = {value: character for character, value in EITHER.items()}
_LETTER_OF = _EITHER_OF | {value: letter for letter, value in LETTERS.items()}
_FIGURE_OF = _EITHER_OF | {LETTERS[letter]: figure for figure, letter in FIGURES.items()}
