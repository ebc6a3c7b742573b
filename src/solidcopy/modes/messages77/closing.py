"""The 15-bit field that closes a standard message: locator, report or sign-off.

Source: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory; confirmed by
range: 180·180 locators, then -30 dB is the lowest report that collides with no sign-off.
"""

import re
from typing import Final

from solidcopy.errors import MessageError

CLOSING_BITS: Final = 15
N_LOCATORS: Final = 180 * 180
LOWEST_REPORT_DB: Final = -30
HIGHEST_REPORT_DB: Final = 49
"""What two digits are used for (from memory); the field itself would hold up to +332."""

SIGN_OFFS: Final = ("RRR", "RR73", "73")
BLANK: Final = ""
_BLANK_VALUE: Final = N_LOCATORS + 1
_FIRST_SIGN_OFF: Final = N_LOCATORS + 2
_ZERO_DB: Final = N_LOCATORS + 35

_LOCATOR: Final = re.compile(r"[A-R]{2}[0-9]{2}")
_REPORT: Final = re.compile(r"[+-][0-9]{1,2}")


def is_locator(word: str) -> bool:
    """Two letters A to R and two digits."""
    return _LOCATOR.fullmatch(word) is not None


def is_report(word: str) -> bool:
    """A sign and one or two digits, in range or not."""
    return _REPORT.fullmatch(word) is not None


def locator_number(locator: str) -> int:
    """0 (AA00) to 32399 (RR99)."""
    letters = (ord(locator[0]) - ord("A")) * 18 + ord(locator[1]) - ord("A")
    return letters * 100 + int(locator[2:4])


def locator_text(number: int) -> str:
    """Inverse of `locator_number`."""
    letters, digits = divmod(number, 100)
    return f"{chr(ord('A') + letters // 18)}{chr(ord('A') + letters % 18)}{digits:02d}"


def canonical_closing(word: str) -> str:
    """The word as it reads after unpacking: reports with sign and two digits.

    Raises MessageError if it is no locator, sign-off or report, or a report out of range.
    """
    if word == BLANK or word in SIGN_OFFS or is_locator(word):
        return word
    if not is_report(word):
        raise MessageError(
            f"{word!r} cannot close a message: allowed are a locator (AA00 to RR99), a report "
            f"({LOWEST_REPORT_DB} to +{HIGHEST_REPORT_DB}, with its sign), "
            f"{', '.join(SIGN_OFFS)} or nothing"
        )
    report_db = int(word)
    if not LOWEST_REPORT_DB <= report_db <= HIGHEST_REPORT_DB:
        raise MessageError(
            f"report {word} is out of range: {LOWEST_REPORT_DB} to +{HIGHEST_REPORT_DB} dB"
        )
    return f"{report_db:+03d}"


def pack_closing(word: str, *, is_acknowledged: bool) -> int:
    """15-bit field of a canonical word.

    RR73 is the sign-off, not the locator of that name; `R RR73` can only mean the locator.
    """
    if word == BLANK:
        return _BLANK_VALUE
    if word in SIGN_OFFS and not is_acknowledged:
        return _FIRST_SIGN_OFF + SIGN_OFFS.index(word)
    return locator_number(word) if is_locator(word) else _ZERO_DB + int(word)


def unpack_closing(field: int) -> str:
    """Text of the 15-bit field. Raises MessageError for a value that no text packs to.

    The locator RR73 (32373) reads RR73, as the sign-off does.
    """
    if field < N_LOCATORS:
        return locator_text(field)
    if field == _BLANK_VALUE:
        return BLANK
    if _FIRST_SIGN_OFF <= field < _FIRST_SIGN_OFF + len(SIGN_OFFS):
        return SIGN_OFFS[field - _FIRST_SIGN_OFF]
    report_db = field - _ZERO_DB
    if not LOWEST_REPORT_DB <= report_db <= HIGHEST_REPORT_DB:
        raise MessageError(f"the closing field holds {field}, which no text packs to")
    return f"{report_db:+03d}"
