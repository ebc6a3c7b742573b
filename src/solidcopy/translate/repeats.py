"""Repeats between stations that take turns: attempts in a time, and a whole exchange as a chain.

Each station sends in every second slot. A message that was not heard is sent again in the station's
next turn. An exchange is a row of messages by turns; the next one is sent once the last was heard.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solidcopy.statistics.shapes import Array

TURN_SLOTS = 2
"""Slots from one attempt of a station to its next."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """An ordinary contact: how many messages, by turns, must get through."""

    messages: tuple[str, ...]

    @property
    def n_messages(self) -> int:
        """At least one."""
        return len(self.messages)


ORDINARY = Exchange(
    (
        "call to anybody (CQ)",
        "answer with locator",
        "report",
        "report with R",
        "sign-off (RR73)",
    )
)
"""Source: ordinary use of FT8 and FT4 (trade); the last 73 is a courtesy."""


def attempts_within(seconds: float, slot_s: float) -> int:
    """Attempts of one station that end within a time that starts with its own slot."""
    return max(0, (math.floor(seconds / slot_s + 1e-9) + 1) // TURN_SLOTS)


def slots_of_attempts(n_attempts: int) -> int:
    """Slots from the start of the first attempt to the end of the last."""
    return TURN_SLOTS * n_attempts - 1


def within_attempts(p: Array, n_attempts: int) -> Array:
    """Chance that one of `n_attempts` gets through, each by itself with chance `p`, any shape.

    Only where nothing that lasts longer than an attempt decides: see `runs` otherwise.
    """
    return np.asarray(-np.expm1(n_attempts * np.log1p(-np.minimum(p, 1.0 - 1e-15))), np.float64)


def attempts_for(p: float, share: float) -> int | None:
    """Fewest independent attempts that get through with chance `share`; None if p is 0."""
    if p <= 0.0:
        return None
    if p >= share:
        return 1
    return math.ceil(math.log1p(-share) / math.log1p(-p) - 1e-12)


def exchange_within(p_of_messages: Sequence[Array], n_slots: int) -> Array:
    """Chance that a whole exchange is over within 1, 2, ... slots, all attempts independent.

    A Markov chain: the state is the number of messages that got through. In a slot the station
    whose turn it is can move it by one, if the next message is hers.

    Args:
        p_of_messages: chance of each message in one attempt; all of one shape (...,).
        n_slots: most slots, counted from the first attempt of the first message.
    Returns: (n_slots, ...).
    Source: derived here; held against simulated exchanges.
    """
    p = np.array(p_of_messages, np.float64)
    n_messages = len(p)
    state = np.zeros((n_messages + 1, *p.shape[1:]))
    state[0] = 1.0
    over = np.empty((n_slots, *p.shape[1:]))
    for slot in range(n_slots):
        for message in range(slot % TURN_SLOTS, n_messages, TURN_SLOTS):
            moved = state[message] * p[message]
            state[message] -= moved
            state[message + 1] += moved
        over[slot] = state[n_messages]
    return over
