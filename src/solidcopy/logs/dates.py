"""Which day each line of a log belongs to: order of day and month, missing years, missing dates."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from solidcopy.errors import LogError
from solidcopy.logs.clock import ORDERS, Days

DAY_S = 86_400.0
OUT_OF_ORDER_S = 3600.0
"""A clock without a date may run back so far before it counts as the next day."""
HALF_A_YEAR = 183

_IN_NAME = (
    re.compile(r"(?<!\d)(?P<y>20\d\d)[-_. ]?(?P<m>\d\d)[-_. ]?(?P<d>\d\d)(?!\d)"),
    re.compile(r"(?<!\d)(?P<d>\d\d)[-_. ](?P<m>\d\d)[-_. ](?P<y>20\d\d)(?!\d)"),
)
_YEAR_IN_NAME = re.compile(r"(?<!\d)(20\d\d)(?!\d)")


@dataclass(frozen=True, slots=True)
class Order:
    """How the dates of a file are read."""

    name: str
    rivals: tuple[str, ...]
    """Other orders under which every date would be one, but another."""
    is_sure: bool = True
    """There are no rivals, or this order alone ends on the day on which the file was written."""


def order_of(days: Sequence[Days], asked: str | None, latest: date) -> Order:
    """The order of day, month and year under which all dates make sense.

    Where several do: the one with fewest dates after `latest` (when the file was last written),
    then one that ends there, then the one that spreads the dates least, then the commonest for
    that way of writing.
    Raises: LogError if `asked` is no order, or makes no dates of them.
    """
    n_fitting = {order: sum(order in day for day in days) for order in ORDERS}
    if asked is not None:
        if asked not in ORDERS:
            raise LogError(f'--dates: give {", ".join(ORDERS)}, not "{asked}"')
        if days and n_fitting[asked] == 0:
            raise LogError(f"--dates {asked}: no date of the file makes sense so")
        return Order(asked, ())
    most = max(n_fitting.values(), default=0)
    fitting = [order for order in days[0] if n_fitting[order] == most] if days else []
    fitting = fitting or [order for order in ORDERS if n_fitting[order] == most]
    ranked = sorted(fitting, key=lambda order: _oddness(days, order, latest))
    best = ranked[0]
    rivals = [
        order
        for order in ranked[1:]
        if any(best in day and order in day and day[order] != day[best] for day in days)
    ]
    fresh = [order for order in ranked if _oddness(days, order, latest)[:2] == (0, False)]
    return Order(best, tuple(rivals), is_sure=not rivals or fresh == [best])


def _oddness(days: Sequence[Days], order: str, latest: date) -> tuple[int, bool, int]:
    """Number of dates to come, whether the last is not that of the file, and days in all."""
    dates = [
        date(year or latest.year, month, day if (month, day) != (2, 29) or year else 28)
        for found in days
        if order in found
        for year, month, day in (found[order],)
    ]
    if not dates:
        return 0, True, 0
    n_future = sum(day > latest + timedelta(days=1) for day in dates)
    is_fresh = abs((latest - max(dates)).days) <= 1
    return n_future, not is_fresh, (max(dates) - min(dates)).days


def date_in_name(name: str) -> date | None:
    """A date in a file's name, e.g. in "harbour-2026-11-25.txt"."""
    for form in _IN_NAME:
        for match in form.finditer(name):
            try:
                return date(int(match["y"]), int(match["m"]), int(match["d"]))
            except ValueError:
                continue
    return None


def year_in_name(name: str) -> int | None:
    """A year in a file's name, alone or in a date."""
    whole = date_in_name(name)
    match = _YEAR_IN_NAME.search(name)
    return whole.year if whole else int(match[1]) if match else None


def years_of(days: Sequence[tuple[int, int]], *, first: int | None, latest: date) -> list[int]:
    """Years of dates (month, day) in the order of their lines.

    Args:
        days: without a year; a step back by more than half a year begins the next year.
        first: year of the first; None: the last one is the newest not after `latest`.
        latest: when the file was last written.
    """
    years: list[int] = []
    year, before = 0, 0
    for month, day in days:
        of_year = 31 * month + day
        if before - of_year > HALF_A_YEAR:
            year += 1
        elif of_year - before > HALF_A_YEAR and years and year > 0:
            year -= 1
        years.append(year)
        before = of_year
    if first is None:
        newest = latest + timedelta(days=1)
        first = newest.year - (days[-1] > (newest.month, newest.day)) - years[-1]
    return [first + year for year in years]


class DayCounter:
    """Days since the first line, of clocks without a date; one for each piece of a file."""

    def __init__(self) -> None:
        self._day = 0
        self._before_s: float | None = None
        self._piece: tuple[int, int] | None = None
        self.midnights: list[int] = []
        """Lines before which midnight must have passed."""
        self.restarts: list[int] = []
        """Lines at which another layout begins on the first day again."""

    def day(self, seconds: float, *, piece: tuple[int, int], line_number: int) -> int:
        """The day of the next line."""
        if self._before_s is None:
            self._before_s, self._piece = seconds, piece
            return 0
        step_s = seconds - self._before_s
        if piece != self._piece:
            self._piece = piece
            if step_s < 0:
                self._day = 0
                self.restarts.append(line_number)
        elif step_s < -OUT_OF_ORDER_S:
            self._day += 1
            self.midnights.append(line_number)
        elif step_s > DAY_S - OUT_OF_ORDER_S and self._day > 0:
            return self._day - 1  # a late line of the evening before
        self._before_s = seconds
        return self._day
