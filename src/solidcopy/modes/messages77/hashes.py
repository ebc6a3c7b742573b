"""Short hashes that stand in for call signs too long for their field, and who can undo them.

A hash is not a call: only a listener who has met the call can name it. `KnownCalls` is that
memory, made explicit and handed over by the caller; the mode itself remembers nothing.
Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory, unconfirmed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

CALL_ALPHABET: Final = " 0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ/"
"""38 characters of a call in full."""

N_CALL_CHARACTERS: Final = 11

HASH_WIDTHS_BITS: Final = (22, 12, 10)

UNKNOWN_CALL: Final = "<...>"

_MULTIPLIER: Final = 47_055_833_459
"""A prime (checked by trial division)."""


def call_number(call: str, *, is_left_justified: bool) -> int:
    """Base-38 value of a call of up to 11 characters in 11 places."""
    padded = call.ljust(N_CALL_CHARACTERS) if is_left_justified else call.rjust(N_CALL_CHARACTERS)
    number = 0
    for character in padded:
        number = number * len(CALL_ALPHABET) + CALL_ALPHABET.index(character)
    return number


def call_hash(call: str, *, n_bits: int) -> int:
    """Hash of a call: the top `n_bits` of 64 of a product; a shorter one heads a longer one."""
    product = _MULTIPLIER * call_number(call, is_left_justified=True)
    return (product & (1 << 64) - 1) >> (64 - n_bits)


@dataclass(frozen=True, slots=True)
class KnownCalls:
    """Calls that a listener has met, in any order.

    Two known calls with the same hash leave it unresolved: a wrong name is worse than none.
    """

    calls: frozenset[str] = frozenset()
    """Upper case, without angle brackets."""

    def __post_init__(self) -> None:
        for call in self.calls:
            if not 0 < len(call) <= N_CALL_CHARACTERS or not set(call) <= set(CALL_ALPHABET):
                raise ValueError(f"{call!r} cannot be a known call")

    @classmethod
    def of(cls, calls: Iterable[str]) -> "KnownCalls":
        """Known calls from any collection, upper or lower case."""
        return cls(frozenset(call.upper() for call in calls))

    def bracketed(self, hash_value: int, *, n_bits: int) -> str:
        """The call behind a hash in angle brackets, or `<...>`."""
        matches = [call for call in self.calls if call_hash(call, n_bits=n_bits) == hash_value]
        return f"<{matches[0]}>" if len(matches) == 1 else UNKNOWN_CALL
