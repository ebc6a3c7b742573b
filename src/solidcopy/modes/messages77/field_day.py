"""Types 0.3 and 0.4: field-day exchange of transmitters, class and section.

Written `CALL CALL 6A SECTION12`, with an acknowledging R as in `CALL CALL R 17B SECTION3`.
Transmitters 1 to 16 go as type 0.3, 17 to 32 as type 0.4; classes are A to H, as three bits hold.
The protocol's list that turns section numbers into abbreviations is not held here: a section is
written by the number in its field, 0 to 127.
Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory.
"""

import re
from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77.calls import (
    CALL_BITS,
    lone_call_text,
    pack_lone_call,
    parse_call,
    require_call,
    unpack_call,
)
from solidcopy.modes.messages77.fields import Packed, join_fields, split_fields
from solidcopy.modes.messages77.hashes import KnownCalls

FEW_TRANSMITTERS: Final = 3
MANY_TRANSMITTERS: Final = 4
"""Subtypes of type 0."""

_WIDTHS: Final = (CALL_BITS, CALL_BITS, 1, 4, 3, 7)
_N_PER_SUBTYPE: Final = 16
_CLASSES: Final = "ABCDEFGH"
_N_SECTIONS: Final = 128

_STATION: Final = re.compile(r"([0-9]{1,2})([A-Z])")
_SECTION: Final = re.compile(r"SECTION([0-9]{1,3})")


def recognises(words: list[str]) -> bool:
    """Whether transmitters and class stand before the last word, behind two calls."""
    return (
        len(words) in (4, 5)
        and _STATION.fullmatch(words[-2]) is not None
        and all(parse_call(word) is not None for word in words[:2])
    )


def pack(words: list[str]) -> tuple[int, Packed]:
    """Subtype and fields of a text. Raises MessageError with the reason."""
    first, second = require_call(words[0]), require_call(words[1])
    is_acknowledged = len(words) == 5
    if is_acknowledged and words[2] != "R":
        raise MessageError(f"{words[2]!r} cannot stand between calls and transmitters; R can")
    n_transmitters, class_letter = _parse_station(words[-2])
    section = _parse_section(words[-1])
    is_many = n_transmitters > _N_PER_SUBTYPE
    number = join_fields(
        (
            pack_lone_call(first),
            pack_lone_call(second),
            int(is_acknowledged),
            n_transmitters - 1 - _N_PER_SUBTYPE * is_many,
            _CLASSES.index(class_letter),
            section,
        ),
        _WIDTHS,
    )
    calls = f"{lone_call_text(first)} {lone_call_text(second)}"
    text = f"{calls} {'R ' * is_acknowledged}{n_transmitters}{class_letter} SECTION{section}"
    return MANY_TRANSMITTERS if is_many else FEW_TRANSMITTERS, Packed(number, text)


def unpack(number: int, known_calls: KnownCalls, *, subtype: int) -> str:
    """Text of the fields. Raises MessageError if a call field holds none."""
    first, second, acknowledged, transmitters, station_class, section = split_fields(
        number, _WIDTHS
    )
    n_transmitters = transmitters + 1 + _N_PER_SUBTYPE * (subtype == MANY_TRANSMITTERS)
    return (
        f"{unpack_call(first, known_calls)} {unpack_call(second, known_calls)} "
        f"{'R ' * acknowledged}{n_transmitters}{_CLASSES[station_class]} SECTION{section}"
    )


def _parse_station(word: str) -> tuple[int, str]:
    match = _STATION.fullmatch(word)
    n_transmitters, class_letter = (int(match[1]), match[2]) if match else (0, "")
    if not 1 <= n_transmitters <= 2 * _N_PER_SUBTYPE or class_letter not in _CLASSES:
        raise MessageError(
            f"{word!r} is no number of transmitters (1 to {2 * _N_PER_SUBTYPE}) and class "
            f"({_CLASSES[0]} to {_CLASSES[-1]}), e.g. 6A"
        )
    return n_transmitters, class_letter


def _parse_section(word: str) -> int:
    match = _SECTION.fullmatch(word)
    if match is None or int(match[1]) >= _N_SECTIONS:
        raise MessageError(
            f"{word!r} is no section: SECTION and the number of its field, 0 to "
            f"{_N_SECTIONS - 1} (the list of abbreviations is not held here)"
        )
    return int(match[1])
