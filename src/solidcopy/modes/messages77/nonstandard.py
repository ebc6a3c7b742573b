"""Type 4: one call in full, up to 11 characters, and the other one as a 12-bit hash.

Written `CQ CALL`, or `<CALL> LONGCALL`, `LONGCALL <CALL>` with nothing, RRR, RR73 or 73 behind.
A report or a locator has no room; such a message goes as type 1 with the long call hashed.
Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory; that the
call stands right-justified in its 11 places is from memory too, and shown by no vector at hand.
"""

from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77.calls import Call, is_call_in_full
from solidcopy.modes.messages77.closing import BLANK, SIGN_OFFS
from solidcopy.modes.messages77.fields import Packed, join_fields, split_fields
from solidcopy.modes.messages77.hashes import (
    CALL_ALPHABET,
    N_CALL_CHARACTERS,
    KnownCalls,
    call_hash,
    call_number,
)

TYPE: Final = 4
_HASH_BITS: Final = 12
_WIDTHS: Final = (_HASH_BITS, 58, 1, 2, 1)
_CLOSINGS: Final = (BLANK, *SIGN_OFFS)


def pack(calls: list[Call], closing: str) -> Packed:
    """Fields of CQ with one call, or of two calls of which exactly one is in full."""
    is_cq = len(calls) == 1
    full = next(call for call in calls if not call.is_bracketed and not call.is_standard)
    is_hash_second = not is_cq and calls[0] is full
    hash_value = 0
    if not is_cq:
        hashed = calls[1] if is_hash_second else calls[0]
        hash_value = call_hash(hashed.in_full, n_bits=_HASH_BITS)
    number = join_fields(
        (
            hash_value,
            call_number(full.in_full, is_left_justified=False),
            int(is_hash_second),
            _CLOSINGS.index(closing),
            int(is_cq),
        ),
        _WIDTHS,
    )
    words = ["CQ"] if is_cq else []
    words += [call.in_full if call is full else call.bracketed for call in calls]
    return Packed(number, " ".join(words + [closing] * (closing != BLANK)))


def unpack(number: int, known_calls: KnownCalls) -> str:
    """Text of the fields. Raises MessageError if the call in full is none.

    After CQ the hash, its place and the closing mean nothing and are not looked at.
    """
    hash_value, call_value, is_hash_second, closing, is_cq = split_fields(number, _WIDTHS)
    full = _call_from_number(call_value)
    if is_cq:
        return f"CQ {full}"
    hashed = known_calls.bracketed(hash_value, n_bits=_HASH_BITS)
    words = [full, hashed] if is_hash_second else [hashed, full]
    return " ".join([*words, _CLOSINGS[closing]]).rstrip()


def _call_from_number(number: int) -> str:
    if number >= len(CALL_ALPHABET) ** N_CALL_CHARACTERS:
        raise MessageError(f"the call in full holds {number}, more than 11 characters can make")
    characters = []
    for _ in range(N_CALL_CHARACTERS):
        number, place = divmod(number, len(CALL_ALPHABET))
        characters.append(CALL_ALPHABET[place])
    call = "".join(reversed(characters)).strip()
    if not is_call_in_full(call):
        raise MessageError(f"the call in full holds {call!r}, which is no call sign")
    return call
