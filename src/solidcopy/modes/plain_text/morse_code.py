"""Morse signals: timing and code table of ITU-R M.1677-1 (10/2009)."""

import numpy as np
from numpy.typing import NDArray

CODE = {
    "A": ".-", "B": "-...", "C": "-.-.", "D": "-..", "E": ".", "F": "..-.", "G": "--.",
    "H": "....", "I": "..", "J": ".---", "K": "-.-", "L": ".-..", "M": "--", "N": "-.",
    "O": "---", "P": ".--.", "Q": "--.-", "R": ".-.", "S": "...", "T": "-", "U": "..-",
    "V": "...-", "W": ".--", "X": "-..-", "Y": "-.--", "Z": "--..",
    "1": ".----", "2": "..---", "3": "...--", "4": "....-", "5": ".....",
    "6": "-....", "7": "--...", "8": "---..", "9": "----.", "0": "-----",
    "/": "-..-.", "?": "..--..", "=": "-...-", ".": ".-.-.-", ",": "--..--", "+": ".-.-.",
    "-": "-....-",
}  # fmt: skip
"""Letters, figures and the usual signs of M.1677-1 (from memory; PARIS and CODEX check it)."""

MARK_UNITS = {".": 1, "-": 3}
SIGNAL_GAP_UNITS, LETTER_GAP_UNITS, WORD_GAP_UNITS = 1, 3, 7

UNITS_PER_WORD = 50
"""PARIS with the gap after it; a speed in words per minute counts these."""


def dot_s(speed_wpm: float) -> float:
    """Length of a dot: 60 s / (50 units * speed)."""
    return 60.0 / (UNITS_PER_WORD * speed_wpm)


def edge_times(text: str) -> tuple[NDArray[np.float64], int]:
    """Key-down and key-up times of a text in units of a dot, and its length with a word gap.

    Args:
        text: words of characters in CODE, upper case, separated by one blank.
    Returns: (2 * n_marks,) down, up, down, up..., and the length in dots until it repeats.
    """
    edges: list[float] = []
    now = 0
    for word in text.split(" "):
        for letter in word:
            for mark in CODE[letter]:
                edges += [now, now + MARK_UNITS[mark]]
                now += MARK_UNITS[mark] + SIGNAL_GAP_UNITS
            now += LETTER_GAP_UNITS - SIGNAL_GAP_UNITS
        now += WORD_GAP_UNITS - LETTER_GAP_UNITS
    return np.array(edges, dtype=np.float64), now
