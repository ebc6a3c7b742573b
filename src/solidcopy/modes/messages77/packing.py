"""The front door of packing: which type carries a text, and which text a payload carries.

The rules, in this order: `RR73;` behind the first word makes a two-in-one reply; `TU;` in front,
or two calls and a three-digit report, a teletype exchange; two calls, transmitters and class, a
field-day exchange; a six-digit exchange before the last word, European VHF; one word of more than
13 hexadecimal digits, telemetry; CQ, DE, QRZ or two calls, a standard message (type 1, 2 or 4).
What none of them can carry goes as free text if that has room, else it is refused with the reason.

Lower case is accepted and becomes upper case; runs of blanks between the words of a structured
message become one, outer blanks vanish. `Message.text` shows the result.
"""

from collections.abc import Callable
from functools import partial
from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77 import (
    european_vhf,
    expedition,
    field_day,
    free_text,
    nonstandard,
    standard,
    teletype,
)
from solidcopy.modes.messages77.fields import Packed, payload_bytes, payload_number
from solidcopy.modes.messages77.hashes import KnownCalls
from solidcopy.modes.mode import Bits, Message

_TYPE_BITS: Final = 3
_ALPHABET: Final = free_text.ALPHABET + "<>;"

_EXPEDITION: Final = 1
_TELEMETRY: Final = 5
"""Subtypes of type 0."""

_UNPACK_BY_TYPE: Final[dict[int, Callable[[int, KnownCalls], str]]] = {
    1: partial(standard.unpack, message_type=1),
    2: partial(standard.unpack, message_type=2),
    teletype.TYPE: teletype.unpack,
    nonstandard.TYPE: nonstandard.unpack,
    european_vhf.TYPE: european_vhf.unpack,
}

_UNPACK_BY_SUBTYPE: Final[dict[int, Callable[[int, KnownCalls], str]]] = {
    0: lambda number, _: free_text.unpack_free_text(number),
    _EXPEDITION: expedition.unpack,
    field_day.FEW_TRANSMITTERS: partial(field_day.unpack, subtype=field_day.FEW_TRANSMITTERS),
    field_day.MANY_TRANSMITTERS: partial(field_day.unpack, subtype=field_day.MANY_TRANSMITTERS),
    _TELEMETRY: lambda number, _: free_text.unpack_telemetry(number),
}


def pack_text(text: str) -> Message:
    """The message that carries a text.

    Args:
        text: as an operator would write it; see this module's docstring.
    Returns: payload of 77 bits, and the canonical text: with every call known, unpacking gives it.
    Raises: MessageError naming the character, word, length or range; nothing is cut off.
    """
    written = _upper_case(text)
    try:
        packed = _pack_structured(written.split())
    except MessageError as reason:
        fault = free_text.free_text_fault(written)
        if fault is not None:
            raise MessageError(f"{text!r} cannot be sent: {reason}; {fault}") from None
        packed = _of_subtype(0, free_text.pack_free_text(written))
    return Message(packed.text, payload_bytes(packed.number))


def unpack_payload(payload: Bits, known_calls: KnownCalls | None = None) -> str:
    """The text that a payload carries.

    Args:
        payload: (77,) uint8.
        known_calls: calls that hashes may stand for; `<...>` where it does not help.
    Raises: MessageError for a type or a field value that no message has.
    """
    number = payload_number(payload)
    calls = known_calls or KnownCalls()
    message_type = number & 7
    if message_type:
        if message_type not in _UNPACK_BY_TYPE:
            raise MessageError(f"message type {message_type} is not assigned")
        return _UNPACK_BY_TYPE[message_type](number >> _TYPE_BITS, calls)
    subtype = number >> _TYPE_BITS & 7
    if subtype not in _UNPACK_BY_SUBTYPE:
        raise MessageError(f"message type 0.{subtype} is not assigned or not supported")
    return _UNPACK_BY_SUBTYPE[subtype](number >> 2 * _TYPE_BITS, calls)


def _upper_case(text: str) -> str:
    """The text with letters a to z made capital, without outer blanks.

    Only these change: the capital of some other letters is two letters, or another alphabet's.
    """
    for place, character in enumerate(text, start=1):
        if not character.isascii() or character.upper() not in _ALPHABET:
            raise MessageError(
                f"{text!r} cannot be sent: no message carries {character!r} (character {place})"
            )
    written = text.strip(" ").upper()
    if not written:
        raise MessageError("an empty text cannot be sent: at least one character is needed")
    return written


def _pack_structured(words: list[str]) -> Packed:
    """All 77 bits of a text that is not free text. Raises MessageError with the reason."""
    if expedition.recognises(words):
        return _of_subtype(_EXPEDITION, expedition.pack(words))
    if teletype.recognises(words):
        return _of_type(teletype.TYPE, teletype.pack(words))
    if field_day.recognises(words):
        return _of_subtype(*field_day.pack(words))
    if european_vhf.recognises(words):
        return _of_type(european_vhf.TYPE, european_vhf.pack(words))
    if free_text.recognises_telemetry(words):
        return _of_subtype(_TELEMETRY, free_text.pack_telemetry(words))
    if standard.recognises(words):
        return _of_type(*standard.pack(words))
    raise MessageError(
        "it does not begin with CQ and a call, or with two calls, as structured messages do"
    )


def _of_type(message_type: int, packed: Packed) -> Packed:
    return Packed(packed.number << _TYPE_BITS | message_type, packed.text)


def _of_subtype(subtype: int, packed: Packed) -> Packed:
    """Type 0: three more bits stand before the type bits."""
    return Packed(packed.number << 2 * _TYPE_BITS | subtype << _TYPE_BITS, packed.text)
