"""Types 1 and 2, the messages of an ordinary contact, and the choice of type 4 beside them.

Written `CALL CALL closing`, `CQ CALL locator`, `CQ DX CALL locator`, `DE CALL locator`. Type 1
knows the suffix /R, type 2 /P. A call that 28 bits do not hold goes in full where type 4 has room
for the rest of the message (calls.py, nonstandard.py), else as a hash in angle brackets.
Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory.
"""

from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77 import nonstandard
from solidcopy.modes.messages77.calling import is_addition, pack_token, unpack_token
from solidcopy.modes.messages77.calls import (
    CALL_BITS,
    N_TOKENS,
    Call,
    call_text,
    pack_call,
    parse_call,
    require_call,
    unpack_call,
)
from solidcopy.modes.messages77.closing import (
    BLANK,
    CLOSING_BITS,
    SIGN_OFFS,
    canonical_closing,
    is_locator,
    is_report,
    pack_closing,
    unpack_closing,
)
from solidcopy.modes.messages77.fields import Packed, join_fields, split_fields
from solidcopy.modes.messages77.hashes import UNKNOWN_CALL, KnownCalls

_WIDTHS: Final = (CALL_BITS, 1, CALL_BITS, 1, 1, CLOSING_BITS)
SUFFIX_OF_TYPE: Final = {1: "/R", 2: "/P"}


def recognises(words: list[str]) -> bool:
    """Whether the text begins like an ordinary contact: a general call, or two calls."""
    if words[0] in ("CQ", "DE", "QRZ"):
        return len(words) > 1
    return len(words) > 1 and all(_is_call_or_bracket(word) for word in words[:2])


def pack(words: list[str]) -> tuple[int, Packed]:
    """Type (1, 2 or 4) and fields of a text. Raises MessageError with the reason."""
    token, calls, closing_words = _split_words(words)
    closing, is_acknowledged = _parse_closing(closing_words)
    if _goes_in_full(token, calls, closing):
        return nonstandard.TYPE, nonstandard.pack(calls, closing)
    if token.startswith("CQ"):
        _check_general_call(token, calls[0], closing, is_acknowledged=is_acknowledged)
    first = pack_token(token) if token else pack_call(calls[0])
    if first is None:
        raise MessageError(f"{token!r} is no general call")
    suffixes = ["", *(call.suffix for call in calls)][-2:]
    message_type = 2 if "/P" in suffixes else 1
    if "/R" in suffixes and "/P" in suffixes:
        raise MessageError("one message cannot carry both /R and /P; leave one suffix away")
    number = join_fields(
        (
            first,
            int(suffixes[0] != ""),
            pack_call(calls[-1]),
            int(suffixes[1] != ""),
            int(is_acknowledged),
            pack_closing(closing, is_acknowledged=is_acknowledged),
        ),
        _WIDTHS,
    )
    texts = (call_text(call) for call in calls)
    text = _join_text(token, *texts, _acknowledged(closing, is_acknowledged))
    return message_type, Packed(number, text)


def unpack(number: int, known_calls: KnownCalls, *, message_type: int) -> str:
    """Text of the fields of type 1 or 2. Raises MessageError for what no text packs to."""
    first, has_first_suffix, second, has_second_suffix, acknowledged, last = split_fields(
        number, _WIDTHS
    )
    suffix = SUFFIX_OF_TYPE[message_type]
    closing = unpack_closing(last)
    if first < N_TOKENS:
        first_text = unpack_token(first)
        if has_first_suffix:
            raise MessageError(f"{first_text} cannot carry the suffix {suffix}")
    else:
        first_text = _suffixed(unpack_call(first, known_calls), suffix, has_first_suffix)
    if first_text.startswith("CQ") and (acknowledged or not _may_follow_cq(closing)):
        raise MessageError(f"{closing!r} cannot follow {first_text}")
    if acknowledged and not (is_locator(closing) or is_report(closing)):
        raise MessageError(f"{closing!r} cannot carry an acknowledging R")
    second_text = _suffixed(unpack_call(second, known_calls), suffix, has_second_suffix)
    return _join_text(first_text, second_text, _acknowledged(closing, bool(acknowledged)))


def _is_call_or_bracket(word: str) -> bool:
    return word == UNKNOWN_CALL or parse_call(word) is not None


def _split_words(words: list[str]) -> tuple[str, list[Call], list[str]]:
    """General call (or ""), one or two calls, and the closing words."""
    if words[0] == "CQ" and len(words) > 2 and is_addition(words[1]):
        return f"CQ {words[1]}", [require_call(words[2])], words[3:]
    if words[0] in ("CQ", "DE", "QRZ"):
        return words[0], [require_call(words[1])], words[2:]
    return "", [require_call(word) for word in words[:2]], words[2:]


def _parse_closing(words: list[str]) -> tuple[str, bool]:
    """Canonical closing and whether the acknowledging R stands before it."""
    match words:
        case []:
            return BLANK, False
        case [word] if word.startswith("R") and is_report(word[1:]):
            return canonical_closing(word[1:]), True
        case [word]:
            return canonical_closing(word), False
        case ["R", locator] if is_locator(locator):
            return locator, True
    raise MessageError(
        f"{' '.join(words)!r} cannot close a message: one word is allowed (locator, report with "
        "its sign, RRR, RR73 or 73), with an acknowledging R as in R-15 or R AA00"
    )


def _goes_in_full(token: str, calls: list[Call], closing: str) -> bool:
    """Whether type 4 is called for: some unbracketed call is not standard, and the rest fits."""
    long_calls = [call for call in calls if not call.is_bracketed and not call.is_standard]
    if len(long_calls) == 2:
        raise MessageError(
            f"only one of {calls[0].in_full} and {calls[1].in_full} can go in full; put the other "
            "into angle brackets, then its hash is sent"
        )
    if token:
        return bool(long_calls) and token == "CQ" and closing == BLANK
    return bool(long_calls) and (closing == BLANK or closing in SIGN_OFFS)


def _check_general_call(token: str, call: Call, closing: str, *, is_acknowledged: bool) -> None:
    if is_acknowledged or not _may_follow_cq(closing):
        raise MessageError(
            f"{_acknowledged(closing, is_acknowledged)!r} cannot follow CQ and a call; "
            "a locator or nothing can"
        )
    if not call.is_bracketed and not call.is_standard:
        raise MessageError(
            f"{call.in_full} is too long for {token} with an addition or a locator: write "
            f"'CQ {call.in_full}', or its hash as '{token} {call.bracketed}'"
        )


def _may_follow_cq(closing: str) -> bool:
    return closing == BLANK or (is_locator(closing) and closing not in SIGN_OFFS)


def _suffixed(call: str, suffix: str, has_suffix: int) -> str:
    if has_suffix and call.startswith("<"):
        raise MessageError(f"a hashed call cannot carry the suffix {suffix}")
    return call + suffix if has_suffix else call


def _acknowledged(closing: str, is_acknowledged: bool) -> str:
    if not is_acknowledged:
        return closing
    return f"R {closing}" if is_locator(closing) else f"R{closing}"


def _join_text(*words: str) -> str:
    return " ".join(word for word in words if word)
