"""The table of delivery: how surely a message, or a contact, gets through in so many minutes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.shapes import Array
from solidcopy.translate.chances import Chance, Chances
from solidcopy.translate.power import Ends
from solidcopy.translate.repeats import attempts_within, slots_of_attempts

TAIL = 0.025
"""Left out on either side of drawn chances: intervals hold 95 %."""


@dataclass(frozen=True, slots=True)
class Question:
    """A time and what shall be done in it.

    Args:
        seconds: the time.
        n_attempts: of one message that end within it; 0 where a contact is asked for.
        n_slots: whole slots of the time that count.
    """

    seconds: float
    n_attempts: int
    n_slots: int

    def chance(self, chances: Chances, n_messages: int) -> Chance | NoEvidence:
        """What a curve says of it; a contact has `n_messages`."""
        if self.n_attempts:
            return chances.attempts(self.n_attempts)
        return chances.exchange(n_messages, self.n_slots)


def questions(slot_s: float, minutes: Sequence[float], n_messages: int) -> tuple[Question, ...]:
    """One attempt; one message in each time; a contact in each time that can hold it."""
    asked = [Question(slot_s, 1, 1)]
    for each in minutes:
        n_attempts = attempts_within(60.0 * each, slot_s)
        if n_attempts > 1:
            asked.append(Question(60.0 * each, n_attempts, slots_of_attempts(n_attempts)))
    for each in minutes:
        n_slots = math.floor(60.0 * each / slot_s + 1e-9)
        if n_slots >= n_messages:
            asked.append(Question(60.0 * each, 0, n_slots))
    return tuple(asked)


def ends_of(drawn: Array) -> Ends:
    """Mean of drawn chances, and the ends between which 95 % of them lie."""
    low, high = np.quantile(drawn, [TAIL, 1.0 - TAIL])
    mean = float(np.clip(drawn.mean(), low, high))
    return Ends(mean, float(low), float(high))


def at_level(chance: Chance, level: float, n_draws: int) -> Ends:
    """The chance at one axis value."""
    return ends_of(chance(np.full((n_draws, 1), level)))


def levels_worth_showing(chances: Chances, values: Sequence[float], most: int) -> list[float]:
    """Levels at which one attempt is neither hopeless nor certain, evenly, at most `most`.

    Args:
        chances: of the curve.
        values: axis values that were tested.
        most: rows of a table.
    """
    one = chances.attempts(1)
    low, high = min(values), max(values)
    step = 1.0
    while (high - low) / step > 400:
        step *= 2.0
    every = [low + step * k for k in range(math.floor((high - low) / step + 1e-9) + 1)]
    if isinstance(one, NoEvidence):
        return every[:most]
    worth = [x for x in every if 0.02 < at_level(one, x, chances.n_draws).value < 0.99]
    stride = max(1, -(-len(worth) // most))
    return worth[::stride] or every[:: max(1, -(-len(every) // most))]
