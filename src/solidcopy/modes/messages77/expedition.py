"""Type 0.1: a station far away signs off to one caller and reports to the next in one message.

Written `CALL RR73; CALL <SENDER> report`; the sender goes as a 10-bit hash, the report is an even
number of dB from -30 to +30.
Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory.
"""

from typing import Final

from solidcopy.errors import MessageError
from solidcopy.modes.messages77.calls import (
    CALL_BITS,
    lone_call_text,
    pack_lone_call,
    require_call,
    unpack_call,
)
from solidcopy.modes.messages77.closing import is_report
from solidcopy.modes.messages77.fields import Packed, join_fields, split_fields
from solidcopy.modes.messages77.hashes import KnownCalls, call_hash

_HASH_BITS: Final = 10
_WIDTHS: Final = (CALL_BITS, CALL_BITS, _HASH_BITS, 5)
_SIGN_OFF: Final = "RR73;"
_LIMIT_DB: Final = 30
_STEP_DB: Final = 2


def recognises(words: list[str]) -> bool:
    """Whether the sign-off with its semicolon stands behind the first word."""
    return len(words) > 1 and words[1] == _SIGN_OFF


def pack(words: list[str]) -> Packed:
    """Fields of a text. Raises MessageError with the reason."""
    if len(words) != 5:
        raise MessageError(
            "a two-in-one reply reads 'CALL RR73; CALL <SENDER> report', five words, not "
            f"{len(words)}"
        )
    ended, reported, sender = require_call(words[0]), require_call(words[2]), require_call(words[3])
    report_db = _parse_report(words[4])
    number = join_fields(
        (
            pack_lone_call(ended),
            pack_lone_call(reported),
            call_hash(sender.in_full, n_bits=_HASH_BITS),
            (report_db + _LIMIT_DB) // _STEP_DB,
        ),
        _WIDTHS,
    )
    texts = (lone_call_text(ended), _SIGN_OFF, lone_call_text(reported), sender.bracketed)
    return Packed(number, " ".join((*texts, f"{report_db:+03d}")))


def unpack(number: int, known_calls: KnownCalls) -> str:
    """Text of the fields. Raises MessageError for what no text packs to."""
    ended, reported, sender, step = split_fields(number, _WIDTHS)
    report_db = step * _STEP_DB - _LIMIT_DB
    if report_db > _LIMIT_DB:
        raise MessageError(f"the report holds {step}, which no text packs to")
    return (
        f"{unpack_call(ended, known_calls)} {_SIGN_OFF} {unpack_call(reported, known_calls)} "
        f"{known_calls.bracketed(sender, n_bits=_HASH_BITS)} {report_db:+03d}"
    )


def _parse_report(word: str) -> int:
    if not is_report(word):
        raise MessageError(f"{word!r} is no report: a sign and one or two digits, e.g. -12")
    report_db = int(word)
    if abs(report_db) > _LIMIT_DB or report_db % _STEP_DB:
        raise MessageError(
            f"report {word} does not fit a two-in-one reply: even numbers from -{_LIMIT_DB} to "
            f"+{_LIMIT_DB} dB"
        )
    return report_db
