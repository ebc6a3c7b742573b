"""Type 5: European VHF contest exchange with a six-character locator; both calls are hashed.

Written `<CALL> <CALL> 590003 AA00AA`, with an acknowledging R before the exchange where wanted:
report 52 to 59 and a serial number 0 to 2047 with four digits, in one word.
Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory.
"""

import re
from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77.calls import require_call
from solidcopy.modes.messages77.closing import N_LOCATORS, locator_number, locator_text
from solidcopy.modes.messages77.fields import Packed, join_fields, split_fields
from solidcopy.modes.messages77.hashes import KnownCalls, call_hash

TYPE: Final = 5
_FIRST_HASH_BITS: Final = 12
_SECOND_HASH_BITS: Final = 22
_SERIAL_BITS: Final = 11
_WIDTHS: Final = (_FIRST_HASH_BITS, _SECOND_HASH_BITS, 1, 3, _SERIAL_BITS, 25)
_LOWEST_STRENGTH: Final = 2
_N_LAST_LETTERS: Final = 24

_SIX_DIGITS: Final = re.compile(r"[0-9]{6}")
_EXCHANGE: Final = re.compile(r"5([2-9])([0-9]{4})")
_LOCATOR: Final = re.compile(r"[A-R]{2}[0-9]{2}[A-X]{2}")


def recognises(words: list[str]) -> bool:
    """Whether six digits in one word stand before the last word."""
    return len(words) in (4, 5) and _SIX_DIGITS.fullmatch(words[-2]) is not None


def pack(words: list[str]) -> Packed:
    """Fields of a text. Raises MessageError with the reason."""
    first, second = require_call(words[0]), require_call(words[1])
    is_acknowledged = len(words) == 5
    if is_acknowledged and words[2] != "R":
        raise MessageError(f"{words[2]!r} cannot stand between calls and exchange; R can")
    strength, serial = _parse_exchange(words[-2])
    locator = words[-1]
    if _LOCATOR.fullmatch(locator) is None:
        raise MessageError(f"{locator!r} is no six-character locator: AA00AA to RR99XX")
    number = join_fields(
        (
            call_hash(first.in_full, n_bits=_FIRST_HASH_BITS),
            call_hash(second.in_full, n_bits=_SECOND_HASH_BITS),
            int(is_acknowledged),
            strength - _LOWEST_STRENGTH,
            serial,
            _long_locator_number(locator),
        ),
        _WIDTHS,
    )
    calls = f"{first.bracketed} {second.bracketed}"
    return Packed(number, f"{calls} {'R ' * is_acknowledged}{words[-2]} {locator}")


def unpack(number: int, known_calls: KnownCalls) -> str:
    """Text of the fields. Raises MessageError for a locator that does not exist."""
    first, second, acknowledged, strength, serial, place = split_fields(number, _WIDTHS)
    if place >= N_LOCATORS * _N_LAST_LETTERS**2:
        raise MessageError(f"the locator field holds {place}, beyond RR99XX")
    calls = (
        f"{known_calls.bracketed(first, n_bits=_FIRST_HASH_BITS)} "
        f"{known_calls.bracketed(second, n_bits=_SECOND_HASH_BITS)}"
    )
    exchange = f"5{strength + _LOWEST_STRENGTH}{serial:04d}"
    return f"{calls} {'R ' * acknowledged}{exchange} {_long_locator_text(place)}"


def _parse_exchange(word: str) -> tuple[int, int]:
    match = _EXCHANGE.fullmatch(word)
    if match is None or int(match[2]) >= 1 << _SERIAL_BITS:
        raise MessageError(
            f"{word!r} is no report (52 to 59) with a serial number (0000 to "
            f"{(1 << _SERIAL_BITS) - 1}) behind it, e.g. 590003"
        )
    return int(match[1]), int(match[2])


def _long_locator_number(locator: str) -> int:
    letters = [ord(letter) - ord("A") for letter in locator[4:]]
    return (locator_number(locator) * _N_LAST_LETTERS + letters[0]) * _N_LAST_LETTERS + letters[1]


def _long_locator_text(number: int) -> str:
    square, letters = divmod(number, _N_LAST_LETTERS**2)
    pair = divmod(letters, _N_LAST_LETTERS)
    return locator_text(square) + "".join(chr(ord("A") + letter) for letter in pair)
