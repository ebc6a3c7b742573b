"""Type 0.0, free text, and type 0.5, telemetry.

Free text: up to 13 characters out of 42. Telemetry: exactly 18 hexadecimal digits, the first
0 to 7, written as one word; shorter ones would not differ from free text, so leading zeros are
written. Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory;
confirmed by size: 42^13 < 2^71. That short text stands right-justified is from memory and shown by
no vector at hand; unpacking strips blanks on both sides and so reads either.
"""

import re
from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77.fields import Packed

ALPHABET: Final = " 0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ+-./?"
N_CHARACTERS: Final = 13
TEXT_BITS: Final = 71
N_HEX_DIGITS: Final = 18

_LONG_HEX_WORD: Final = re.compile(rf"[0-9A-F]{{{N_CHARACTERS + 1},}}")


def free_text_fault(text: str) -> str | None:
    """Why an upper-case text cannot go as free text, or None if it can."""
    for place, character in enumerate(text, start=1):
        if character not in ALPHABET:
            return f"free text has no {character!r} (character {place})"
    if len(text) > N_CHARACTERS:
        return f"free text holds {N_CHARACTERS} characters, not {len(text)}"
    return None


def pack_free_text(text: str) -> Packed:
    """Fields of an upper-case text without outer blanks; blanks inside are kept as they are."""
    fault = free_text_fault(text)
    if fault is not None:
        raise MessageError(fault)
    number = 0
    for character in text.rjust(N_CHARACTERS):
        number = number * len(ALPHABET) + ALPHABET.index(character)
    return Packed(number, text)


def unpack_free_text(number: int) -> str:
    """Text of the field without outer blanks. Raises MessageError for blanks only."""
    if number >= len(ALPHABET) ** N_CHARACTERS:
        raise MessageError(f"free text holds {number}, more than 13 characters can make")
    characters = []
    for _ in range(N_CHARACTERS):
        number, place = divmod(number, len(ALPHABET))
        characters.append(ALPHABET[place])
    text = "".join(reversed(characters)).strip()
    if not text:
        raise MessageError("the free text is empty")
    return text


def recognises_telemetry(words: list[str]) -> bool:
    """Whether the text is one word of hexadecimal digits, too long for free text."""
    return len(words) == 1 and _LONG_HEX_WORD.fullmatch(words[0]) is not None


def pack_telemetry(words: list[str]) -> Packed:
    """Fields of one word of digits. Raises MessageError for another count or a high first one."""
    digits = words[0]
    if len(digits) != N_HEX_DIGITS:
        raise MessageError(
            f"telemetry is {N_HEX_DIGITS} hexadecimal digits, not {len(digits)}; write leading "
            "zeros too"
        )
    number = int(digits, 16)
    if number >= 1 << TEXT_BITS:
        raise MessageError(f"the first digit of telemetry is 0 to 7, not {digits[0]}")
    return Packed(number, digits)


def unpack_telemetry(number: int) -> str:
    """18 digits."""
    return f"{number:0{N_HEX_DIGITS}X}"
