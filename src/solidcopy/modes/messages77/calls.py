"""Call signs as words, and the 28-bit field that holds one.

Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory; confirmed
by exact fill: 2 063 592 tokens + 2^22 hashes + 37·36·10·27³ standard calls = 2^28. The work-around
of the protocol for the prefixes of two countries is not made here: their calls go as calls in full.
What counts as a call follows Radio Regulations No. 19.68 (from memory): a prefix with a letter,
digits, and a suffix that ends in a letter.
"""

import re
from dataclasses import dataclass
from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77.hashes import N_CALL_CHARACTERS, UNKNOWN_CALL, KnownCalls, call_hash

N_TOKENS: Final = 2_063_592
N_HASHES: Final = 1 << 22
FIRST_STANDARD_CALL: Final = N_TOKENS + N_HASHES
CALL_BITS: Final = 28

_LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_DIGITS: Final = "0123456789"
_PLACES: Final = (
    " " + _DIGITS + _LETTERS,
    _DIGITS + _LETTERS,
    _DIGITS,
    " " + _LETTERS,
    " " + _LETTERS,
    " " + _LETTERS,
)
"""Alphabets of the six places of a standard call; its digit stands in the third."""

_PREFIX: Final = r"(?:[A-Z]|[A-Z][A-Z0-9]|[0-9][A-Z])"
_STANDARD_CALL: Final = re.compile(rf"{_PREFIX}[0-9][A-Z]{{1,3}}")
_CALL_PART: Final = re.compile(
    r"(?:[A-Z]|[A-Z][A-Z0-9]{1,2}|[0-9][A-Z][A-Z0-9]?)[0-9][A-Z0-9]*[A-Z]"
)
_CALL_IN_FULL: Final = re.compile(r"[A-Z0-9]+(?:/[A-Z0-9]+)*")
SUFFIXES: Final = ("/R", "/P")


@dataclass(frozen=True, slots=True)
class Call:
    """One call as written: name, suffix that has a bit of its own, and whether to send a hash."""

    name: str
    suffix: str = ""
    """`/R` or `/P` after a standard call, else empty."""
    is_bracketed: bool = False

    @property
    def in_full(self) -> str:
        """The call without brackets, with its suffix."""
        return self.name + self.suffix

    @property
    def is_standard(self) -> bool:
        """Whether 28 bits (and a suffix bit) hold the call itself."""
        return not self.is_bracketed and is_standard_call(self.name)

    @property
    def bracketed(self) -> str:
        """The call as it reads when sent as a hash."""
        return f"<{self.in_full}>"


def is_standard_call(name: str) -> bool:
    """A prefix of one or two characters, a digit and one to three letters."""
    return _STANDARD_CALL.fullmatch(name) is not None


def is_call_in_full(name: str) -> bool:
    """Any call that the 11 characters of a call in full hold."""
    return (
        3 <= len(name) <= N_CALL_CHARACTERS
        and _CALL_IN_FULL.fullmatch(name) is not None
        and any(_CALL_PART.fullmatch(part) for part in name.split("/"))
    )


def parse_call(word: str) -> Call | None:
    """The call that a word is, or None. Angle brackets ask for a hash."""
    if word.startswith("<") and word.endswith(">"):
        name = word[1:-1]
        return Call(name, is_bracketed=True) if is_call_in_full(name) else None
    if word[-2:] in SUFFIXES and is_standard_call(word[:-2]):
        return Call(word[:-2], suffix=word[-2:])
    return Call(word) if is_call_in_full(word) else None


def require_call(word: str) -> Call:
    """The call that a word is. Raises MessageError with what a call looks like."""
    call = parse_call(word)
    if call is None:
        if word == UNKNOWN_CALL:
            raise MessageError(f"{word} stands for a call that is not known; write the call")
        raise MessageError(
            f"{word!r} is not a call sign: a prefix with a letter, digits and a suffix that ends "
            f"in a letter are needed, at most {N_CALL_CHARACTERS} characters in all, e.g. Q1ABC"
        )
    return call


def pack_call(call: Call) -> int:
    """28-bit field of a call: the call itself where it is standard, else its 22-bit hash."""
    if not call.is_standard:
        return N_TOKENS + call_hash(call.in_full, n_bits=22)
    number = 0
    aligned = call.name if call.name[2].isdigit() else " " + call.name
    for character, alphabet in zip(aligned.ljust(len(_PLACES)), _PLACES, strict=True):
        number = number * len(alphabet) + alphabet.index(character)
    return FIRST_STANDARD_CALL + number


def pack_lone_call(call: Call) -> int:
    """28-bit field without a suffix bit beside it: a call with /R or /P goes as a hash."""
    return pack_call(_without_suffix_bit(call))


def lone_call_text(call: Call) -> str:
    """How a call reads after a 28-bit field without a suffix bit."""
    return call_text(_without_suffix_bit(call))


def call_text(call: Call) -> str:
    """How a call reads after the 28-bit field and its suffix bit."""
    return call.in_full if call.is_standard else call.bracketed


def _without_suffix_bit(call: Call) -> Call:
    return Call(call.in_full, is_bracketed=True) if call.suffix else call


def unpack_call(field: int, known_calls: KnownCalls) -> str:
    """Text of a 28-bit field that must hold a call or a hash. Raises MessageError otherwise."""
    if field < N_TOKENS:
        raise MessageError(f"the call field holds {field}, which is not a call")
    if field < FIRST_STANDARD_CALL:
        return known_calls.bracketed(field - N_TOKENS, n_bits=22)
    number, characters = field - FIRST_STANDARD_CALL, []
    for alphabet in reversed(_PLACES):
        number, place = divmod(number, len(alphabet))
        characters.append(alphabet[place])
    name = "".join(reversed(characters)).strip()
    if not is_standard_call(name):
        raise MessageError(f"the call field holds {name!r}, which is no call sign")
    return name
