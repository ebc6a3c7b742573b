"""Numbers as people and spreadsheets write them: decimal comma, any minus sign, a unit behind."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

N_REMEMBERED = 20_000
"""Cells come again and again in a log: times for every message of a slot, small numbers."""
MINUS_SIGNS = "−–—‒‐‑﹣－"
"""Characters that stand for a minus: U+2212, dashes and hyphens, small and full-width hyphens."""
SPACES = "\u00a0\u2007\u2009\u202f"
"""Spaces inside a number: no-break, figure, thin, narrow no-break."""

_NUMBER = re.compile(
    r"(?P<digits>[+-]?(?:\d[\d.,' ]*|[.,]\d+))\s*(?P<unit>dB|Hz|kHz|MHz|ms|s|%)?", re.IGNORECASE
)
_EASED = str.maketrans(dict.fromkeys(MINUS_SIGNS, "-") | dict.fromkeys(SPACES, " "))
_GROUP_AT_END = re.compile(r"[+-]?[1-9]\d{0,2}([.,])\d{3}")
_GROUPS = re.compile(r"[+-]?\d{1,3}(?:[ '.,]\d{3})+")


@dataclass(frozen=True, slots=True)
class Number:
    """A number and the unit behind it, lower case, "" if none."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class DecimalMark:
    """How a layout writes decimals."""

    mark: str
    """"." or ","."""
    is_certain: bool
    """False if every number with a mark could as well have it between thousands."""


def eased(cell: str) -> str:
    """A cell with ordinary minus signs and spaces, without blanks at its ends."""
    return cell.translate(_EASED).strip()


@lru_cache(maxsize=N_REMEMBERED)
def parse_number(cell: str, decimal: str = ".") -> Number | None:
    """The number in a cell, or None if it holds anything else.

    Args:
        cell: e.g. "−20,5 dB".
        decimal: the layout's decimal mark. A number with both marks has the later one as decimal
            mark, whatever the layout; one with only the other mark has it between thousands if
            three digits follow, else as decimal mark.
    """
    match = _NUMBER.fullmatch(eased(cell))
    if match is None:
        return None
    digits = match["digits"].strip()
    if " " in digits or "'" in digits:
        whole = digits[: max(digits.rfind(" "), digits.rfind("'")) + 4]
        if not _GROUPS.fullmatch(whole):
            return None
        digits = digits.replace(" ", "").replace("'", "")
    plain = _with_point(digits, decimal)
    if plain is None:
        return None
    return Number(float(plain), (match["unit"] or "").lower())


def _with_point(digits: str, decimal: str) -> str | None:
    """The same digits with at most one mark, a point; None if the marks make no number."""
    n_points, n_commas = digits.count("."), digits.count(",")
    other = "." if decimal == "," else ","
    if n_points and n_commas:
        last = max(digits.rfind("."), digits.rfind(","))
        decimal, other = digits[last], ",."[digits[last] == ","]
        if digits.count(decimal) > 1 or not _GROUPS.fullmatch(digits[:last]):
            return None
        return digits.replace(other, "").replace(decimal, ".")
    if digits.count(decimal) == 1 and not digits.count(other):
        return digits.replace(decimal, ".")
    if digits.count(other) == 1 and not _GROUP_AT_END.fullmatch(digits):
        return digits.replace(other, ".")
    if n_points + n_commas == 0:
        return digits
    return re.sub("[.,]", "", digits) if _GROUPS.fullmatch(digits) else None


def decimal_mark(cells: Iterable[str]) -> DecimalMark:
    """The decimal mark of a layout, from all its numbers."""
    points = commas = unsure = 0
    for cell in cells:
        match = _NUMBER.fullmatch(eased(cell))
        digits = match["digits"] if match else ""
        marks = [character for character in digits if character in ".,"]
        if not marks:
            continue
        if len(set(marks)) == 1 and (len(marks) > 1 or _GROUP_AT_END.fullmatch(digits)):
            unsure += marks == [","]
        elif marks[-1] == ",":
            commas += 1
        else:
            points += 1
    if points or commas:
        return DecimalMark("," if commas > points else ".", True)
    return DecimalMark(".", unsure == 0)
