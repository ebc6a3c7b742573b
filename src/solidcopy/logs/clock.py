"""Times and dates as logs write them, cell by cell, with everything that is left open."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from solidcopy.logs.numbers import eased

YEAR_FIRST, DAY_FIRST, MONTH_FIRST = "year-first", "day-first", "month-first"
ORDERS = (YEAR_FIRST, DAY_FIRST, MONTH_FIRST)

Day = tuple[int | None, int, int]
"""Year (None: not given), month, day."""
Days = Mapping[str, Day]
"""The day for each order of day, month and year that makes one."""

_MONTH_NAMES = (
    "jan", "feb", "mar mär mrz", "apr", "may mai", "jun",
    "jul", "aug", "sep", "oct okt", "nov", "dec dez",
)  # fmt: skip
MONTHS = {name: number for number, names in enumerate(_MONTH_NAMES, 1) for name in names.split()}
"""English and German names by their first three letters."""
_MONTH = "(?P<month>[^\\W\\d_]{3,9})"
_DATE_FORMS = tuple(
    (re.compile(form), orders)
    for form, orders in (
        (r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", "Ymd"),
        (r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})", "dmY mdY"),
        (r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{2})", "dmY mdY Ymd"),
        (r"(\d{4})(\d{2})(\d{2})", "Ymd"),
        (r"(\d{2})(\d{2})(\d{4})", "dmY mdY"),
        (r"(\d{2})(\d{2})(\d{2})", "Ymd dmY mdY"),
        (r"(\d{1,2})[/-](\d{1,2})", "dm md"),
        (r"(\d{1,2})\.(\d{1,2})\.", "dm md"),
    )
)
_ORDER_OF = {
    "Ymd": YEAR_FIRST, "dmY": DAY_FIRST, "mdY": MONTH_FIRST, "dm": DAY_FIRST, "md": MONTH_FIRST
}  # fmt: skip
_NAMED_FORMS = tuple(
    re.compile(form)
    for form in (
        rf"(?P<day>\d{{1,2}})\.?[\s.-]*{_MONTH}\.?(?:[\s.,-]+(?P<year>\d{{4}}|\d{{2}}))?",
        rf"{_MONTH}\.?[\s.-]*(?P<day>\d{{1,2}})(?:(?:st|nd|rd|th)?[\s.,-]+(?P<year>\d{{4}}|\d{{2}}))?",
    )
)
_CLOCK = re.compile(
    r"(?P<h>\d{1,2})(?:(?P<mark>[:h])(?P<m>\d{2})(?:[:m](?P<s>\d{2})s?)?"
    r"|\.(?P<dm>\d{2})\.(?P<ds>\d{2}))"
    r"(?:[.,](?P<f>\d+))?\s*(?P<half>[ap]\.?m\.?)?\s*(?P<zone>z|utc|gmt|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
_COMPACT = re.compile(r"(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2})?(?:[.,](?P<f>\d+))?\s*(?P<zone>[zZ])?")
_EPOCH = re.compile(r"(1\d{9})(\d{3})?(\.\d+)?")
_BOTH = re.compile(r"(?P<date>.*?\d[^\s:T_,]*)(?:\s*[T_,]\s*|\s+)(?P<clock>\d[^T_,]*)")
_WEEKDAY = re.compile(r"[^\W\d_]{2,9}[.,]?\s+(?=\d)|[^\W\d_]{2,9}[.,]\s+")


MAX_INSTANT = 60
"""No date and time are longer than this."""


@dataclass(frozen=True, slots=True)
class When:
    """A time of day, or a whole instant, as one cell gives it."""

    seconds: float
    """Since midnight, or since 1970 if `is_epoch`."""
    days: Days | None = None
    """None: no date beside it."""
    offset_s: int | None = None
    """Of the clock from UTC; None: not said."""
    is_epoch: bool = False


def parse_clock(cell: str) -> When | None:
    """A time of day with marks between its parts, e.g. "18:30:15", "6.30.15 pm", "18h30Z"."""
    match = _CLOCK.fullmatch(eased(cell))
    if match is None:
        return None
    hours, half = int(match["h"]), match["half"]
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + 12 * (half[0] in "pP")
    parts = (hours, int(match["m"] or match["dm"]), int(match["s"] or match["ds"] or 0))
    return _when(parts, match["f"], match["zone"])


def parse_compact_clock(cell: str) -> When | None:
    """A time of day in four or six digits without marks."""
    match = _COMPACT.fullmatch(eased(cell))
    if match is None:
        return None
    return _when(
        (int(match["h"]), int(match["m"]), int(match["s"] or 0)), match["f"], match["zone"]
    )


def _when(parts: tuple[int, int, int], fraction: str | None, zone: str | None) -> When | None:
    hours, minutes, seconds = parts
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    total = 3600 * hours + 60 * minutes + seconds + float(f"0.{fraction or 0}")
    return When(total, offset_s=zone_offset_s(zone) if zone else None)


def zone_offset_s(zone: str) -> int | None:
    """Seconds ahead of UTC of "Z", "UTC", "GMT" or "+01:00"; None for anything else."""
    if zone.lower() in ("z", "utc", "gmt"):
        return 0
    match = re.fullmatch(r"([+-])(\d{1,2}):?(\d{2})?", zone)
    if match is None or int(match[2]) > 14 or int(match[3] or 0) > 59:
        return None
    return (-1 if match[1] == "-" else 1) * (3600 * int(match[2]) + 60 * int(match[3] or 0))


def parse_days(cell: str) -> Days | None:
    """A date without a time, under every order that makes one; None if the cell is no date."""
    text = eased(cell)
    for form, orders in _DATE_FORMS:
        match = form.fullmatch(text)
        if match is not None:
            made = {_ORDER_OF[order]: _day(order, match.groups()) for order in orders.split()}
            days = {order: day for order, day in made.items() if day is not None}
            if days:
                return days
    return _named_days(text)


def _day(order: str, parts: tuple[str, ...]) -> Day | None:
    by_letter = dict(zip(order, parts, strict=True))
    return _checked(by_letter.get("Y"), int(by_letter["m"]), int(by_letter["d"]))


def _checked(year_text: str | None, month: int, day: int) -> Day | None:
    year = None if year_text is None else int(year_text) + 2000 * (len(year_text) == 2)
    if year is not None and not 1970 <= year <= 2100:
        return None
    try:
        date(2024 if year is None else year, month, day)  # 2024 has a 29th of February
    except ValueError:
        return None
    return year, month, day


def _named_days(text: str) -> Days | None:
    for form in _NAMED_FORMS:
        for candidate in (text, _WEEKDAY.sub("", text, count=1)):
            match = form.fullmatch(candidate)
            month = MONTHS.get(match["month"][:3].lower()) if match else None
            if match and month:
                day = _checked(match["year"], month, int(match["day"]))
                return None if day is None else dict.fromkeys(ORDERS, day)
    return None


def parse_instant(cell: str) -> When | None:
    """Date and time in one cell, or seconds (milliseconds) since 1970."""
    text = eased(cell)
    if len(text) > MAX_INSTANT:
        return None
    epoch = _EPOCH.fullmatch(text)
    if epoch is not None:
        seconds = float(epoch[1] + (epoch[3] or ""))
        return When(seconds + float(epoch[2] or 0) / 1000.0, offset_s=0, is_epoch=True)
    for match in (_BOTH.fullmatch(text), _BOTH.fullmatch(_WEEKDAY.sub("", text, count=1))):
        if match is None:
            continue
        days = parse_days(match["date"])
        when = parse_clock(match["clock"]) or parse_compact_clock(match["clock"])
        if days and when:
            return When(when.seconds, days, when.offset_s)
    return None


def parse_when(cell: str) -> When | None:
    """A time of day or an instant in any form."""
    return parse_clock(cell) or parse_instant(cell) or parse_compact_clock(cell)
