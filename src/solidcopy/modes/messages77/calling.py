"""The words that stand in place of a first call: DE, QRZ, CQ, and CQ with an addition.

Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory; confirmed by
range: the last token, CQ ZZZZ, is 532 443, below the first hash.
"""

import re
from typing import Final

from solidcopy.errors import MessageError

_FIRST_NUMBERED: Final = 3
_FIRST_LETTERED: Final = 1003
_LETTER_PLACES: Final = " ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_N_LETTERED_PLACES: Final = 4
_LAST_TOKEN: Final = _FIRST_LETTERED + 27**_N_LETTERED_PLACES - 1
_PLAIN: Final = ("DE", "QRZ", "CQ")

_ADDITION: Final = re.compile(r"[0-9]{3}|[A-Z]{1,4}")


def is_addition(word: str) -> bool:
    """Whether a word may follow CQ: three digits, or one to four letters."""
    return _ADDITION.fullmatch(word) is not None


def pack_token(token: str) -> int | None:
    """28-bit field of `DE`, `QRZ`, `CQ` or `CQ` with an addition; None for anything else."""
    if token in _PLAIN:
        return _PLAIN.index(token)
    first, _, addition = token.partition(" ")
    if first != "CQ" or not is_addition(addition):
        return None
    if addition.isdigit():
        return _FIRST_NUMBERED + int(addition)
    number = 0
    for letter in addition.rjust(_N_LETTERED_PLACES):
        number = number * len(_LETTER_PLACES) + _LETTER_PLACES.index(letter)
    return _FIRST_LETTERED + number


def unpack_token(field: int) -> str:
    """Text of a token. Raises MessageError for a value that no text packs to."""
    if field < _FIRST_NUMBERED:
        return _PLAIN[field]
    if field < _FIRST_LETTERED:
        return f"CQ {field - _FIRST_NUMBERED:03d}"
    number, letters = field - _FIRST_LETTERED, []
    for _ in range(_N_LETTERED_PLACES):
        number, place = divmod(number, len(_LETTER_PLACES))
        letters.append(_LETTER_PLACES[place])
    addition = "".join(reversed(letters)).lstrip()
    if field > _LAST_TOKEN or not is_addition(addition):
        raise MessageError(f"the call field holds {field}, which is neither a token nor a call")
    return f"CQ {addition}"
