"""What a keyed neighbour sends: a text of one's own, over and over, or random groups."""

from typing import Annotated

import numpy as np
from pydantic import Field

RANDOM_TEXT = "random"
"""Written as a text, it asks for new random groups in every trial."""

GROUP_LETTERS = 5
LETTERS = np.array(list("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))

SentText = Annotated[
    str,
    Field(
        min_length=1,
        max_length=500,
        description='sent over and over; "random": new groups of five letters in every trial',
    ),
]


def draw_groups(generator: np.random.Generator, *, n_characters: int) -> str:
    """Groups of five letters, each followed by a blank.

    Args:
        n_characters: at least so many are drawn, blanks included.
    """
    n_groups = -(-n_characters // (GROUP_LETTERS + 1))
    letters = LETTERS[generator.integers(LETTERS.size, size=(n_groups, GROUP_LETTERS))]
    return "".join("".join(group) + " " for group in letters)


def one_round(text: str, generator: np.random.Generator, *, n_characters: int) -> str:
    """What is sent before it begins anew, a blank at its end.

    Args:
        text: as asked; "random" draws groups.
        n_characters: so many random ones are enough not to hear them twice in a slot.
    """
    if text == RANDOM_TEXT:
        return draw_groups(generator, n_characters=n_characters)
    return text + " "
