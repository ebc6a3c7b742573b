"""Tokens of a line that are no words of a message: times, dates, numbers, directions, marks."""

import re
from collections.abc import Sequence
from functools import lru_cache

from solidcopy.logs import words
from solidcopy.logs.clock import parse_clock, parse_days, parse_when
from solidcopy.logs.numbers import N_REMEMBERED, parse_number

_WRAPPED = re.compile(r"[\[({<]?([^\[\](){}<>]*?)[\])}>]?[,;:]?")


@lru_cache(maxsize=N_REMEMBERED)
def kind_of(token: str) -> str:
    """One letter for the kind of a field; "" for a word, which may belong to a message."""
    if parse_clock(token):
        return "t"
    if parse_number(token) is not None:
        return "n"
    if parse_days(token) or parse_when(token):
        return "d"
    if words.direction_of(token):
        return "r"
    return "" if any(character.isalnum() for character in token) else "m"


@lru_cache(maxsize=N_REMEMBERED)
def bare_field(token: str) -> str:
    """A time, date or number without brackets around it and marks behind it; others as they are.

    Brackets around a call belong to the message.
    """
    match = _WRAPPED.fullmatch(token)
    return match[1] if match and kind_of(match[1]) in ("t", "n", "d") else token


def is_field(token: str) -> bool:
    """Whether a token is a field of any kind."""
    return kind_of(token) != ""


def leading_kinds(tokens: Sequence[str]) -> str:
    """Kinds of the fields before the first word."""
    kinds = ""
    for token in tokens:
        kind = kind_of(token)
        if not kind:
            break
        kinds += kind
    return kinds
