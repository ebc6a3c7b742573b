"""Random messages as operators send them, with calls that nobody can hold.

A receiver that remembers what it has met does better on a repeated message than on the air; so
every trial has a new one, uniform over its fields, of which nothing can be guessed.
"""

from typing import Final

import numpy as np

from solidcopy.modes.messages77.closing import (
    HIGHEST_REPORT_DB,
    LOWEST_REPORT_DB,
    N_LOCATORS,
    SIGN_OFFS,
    locator_number,
    locator_text,
)

_N_SUFFIXES: Final = 26 + 26**2 + 26**3
N_CALLS: Final = 10 * _N_SUFFIXES
_N_REPORTS: Final = HIGHEST_REPORT_DB - LOWEST_REPORT_DB + 1
_SIGN_OFF_LOCATOR: Final = locator_number("RR73")
_CQ, _LOCATOR, _REPORT, _ACKNOWLEDGED_REPORT, _FIRST_SIGN_OFF = range(5)
_N_KINDS: Final = _FIRST_SIGN_OFF + len(SIGN_OFFS)


def draw_text(generator: np.random.Generator) -> str:
    """A message of an ordinary contact, every field uniform (see `text_of_numbers`)."""
    limits = (_N_KINDS, N_CALLS, N_CALLS - 1, N_LOCATORS - 1, _N_REPORTS)
    return text_of_numbers(*generator.integers(limits).tolist())


def text_of_numbers(kind: int, first: int, second: int, locator: int, report: int) -> str:
    """The message that drawn numbers stand for.

    Args:
        kind: 0..6: CQ with locator; two calls with locator, report, acknowledged report, RRR, RR73
            or 73. What a kind has no room for is not looked at.
        first: 0..182779, a call of Q, a digit and one to three letters (never allocated).
        second: 0..182778, likewise, the first call left out.
        locator: 0..32398, all but RR73, which would read as the sign-off.
        report: 0..79, the whole range from -30 to +49 dB.
    """
    caller = _call_text(first)
    place = locator_text(locator + (locator >= _SIGN_OFF_LOCATOR))
    if kind == _CQ:
        return f"CQ {caller} {place}"
    calls = f"{caller} {_call_text(second + (second >= first))}"
    if kind == _LOCATOR:
        return f"{calls} {place}"
    if kind >= _FIRST_SIGN_OFF:
        return f"{calls} {SIGN_OFFS[kind - _FIRST_SIGN_OFF]}"
    acknowledgement = "R" if kind == _ACKNOWLEDGED_REPORT else ""
    return f"{calls} {acknowledgement}{report + LOWEST_REPORT_DB:+03d}"


def _call_text(number: int) -> str:
    """One of the calls Q0A to Q9ZZZ."""
    digit, suffix = divmod(number, _N_SUFFIXES)
    n_letters = 1
    while suffix >= 26**n_letters:
        suffix -= 26**n_letters
        n_letters += 1
    letters = ""
    for _ in range(n_letters):
        suffix, letter = divmod(suffix, 26)
        letters += chr(ord("A") + letter)
    return f"Q{digit}{letters}"
