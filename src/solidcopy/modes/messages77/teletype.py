"""Type 3: teletype-contest exchange of a three-digit report and a serial number or a state.

Written `CALL CALL 579 0013`, with `TU;` in front as thanks for the last contact and an
acknowledging R as in `TU; CALL CALL R 599 STATE17`. Reports are 529, 539 ... 599; serials 0 to
7999 read with four digits. The protocol's list that turns numbers above 8000 into states is not
held here: a state is written by its number from 8000 up, STATE0 to STATE191.
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

TYPE: Final = 3
_THANKS: Final = "TU;"
_SERIAL_BITS: Final = 13
_WIDTHS: Final = (1, CALL_BITS, CALL_BITS, 1, 3, _SERIAL_BITS)
_N_SERIALS: Final = 8000
_N_STATES: Final = (1 << _SERIAL_BITS) - _N_SERIALS
_LOWEST_STRENGTH: Final = 2

_REPORT: Final = re.compile(r"5([2-9])9")
_SERIAL: Final = re.compile(r"[0-9]{1,4}")
_STATE: Final = re.compile(r"STATE([0-9]{1,3})")
_THREE_DIGITS: Final = re.compile(r"[0-9]{3}")


def recognises(words: list[str]) -> bool:
    """Whether the thanks stand in front, or three digits before the last word behind two calls."""
    if words[0] == _THANKS:
        return True
    return (
        len(words) in (4, 5)
        and _THREE_DIGITS.fullmatch(words[-2]) is not None
        and all(parse_call(word) is not None for word in words[:2])
    )


def pack(words: list[str]) -> Packed:
    """Fields of a text. Raises MessageError with the reason."""
    has_thanks = words[0] == _THANKS
    contact = words[has_thanks:]
    is_acknowledged = len(contact) == 5 and contact[2] == "R"
    if len(contact) != 4 + is_acknowledged:
        raise MessageError(
            "a teletype-contest message reads 'CALL CALL 599 0013', with 'TU;' in front and 'R' "
            "before the report where wanted"
        )
    first, second = require_call(contact[0]), require_call(contact[1])
    report = _REPORT.fullmatch(contact[-2])
    if report is None:
        raise MessageError(f"{contact[-2]!r} is no teletype report: 529, 539 ... 599")
    exchange = _parse_exchange(contact[-1])
    number = join_fields(
        (
            int(has_thanks),
            pack_lone_call(first),
            pack_lone_call(second),
            int(is_acknowledged),
            int(report[1]) - _LOWEST_STRENGTH,
            exchange,
        ),
        _WIDTHS,
    )
    calls = f"{lone_call_text(first)} {lone_call_text(second)}"
    front = f"{_THANKS} " * has_thanks
    text = f"{front}{calls} {'R ' * is_acknowledged}{report[0]} {_exchange_text(exchange)}"
    return Packed(number, text)


def unpack(number: int, known_calls: KnownCalls) -> str:
    """Text of the fields. Raises MessageError if a call field holds none."""
    thanks, first, second, acknowledged, strength, exchange = split_fields(number, _WIDTHS)
    calls = f"{unpack_call(first, known_calls)} {unpack_call(second, known_calls)}"
    report = f"{'R ' * acknowledged}5{strength + _LOWEST_STRENGTH}9"
    return f"{f'{_THANKS} ' * thanks}{calls} {report} {_exchange_text(exchange)}"


def _parse_exchange(word: str) -> int:
    if _SERIAL.fullmatch(word) and int(word) < _N_SERIALS:
        return int(word)
    state = _STATE.fullmatch(word)
    if state is None or int(state[1]) >= _N_STATES:
        raise MessageError(
            f"{word!r} is neither a serial number (0 to {_N_SERIALS - 1}) nor a state by its "
            f"number (STATE0 to STATE{_N_STATES - 1}; the list of names is not held here)"
        )
    return _N_SERIALS + int(state[1])


def _exchange_text(exchange: int) -> str:
    return f"{exchange:04d}" if exchange < _N_SERIALS else f"STATE{exchange - _N_SERIALS}"
