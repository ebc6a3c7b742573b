"""The day of every line: written beside its time, above it, in the file's name, or counted."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from solidcopy.errors import LogError
from solidcopy.logs import dates
from solidcopy.logs.clock import Day, Days, When
from solidcopy.logs.confession import Confession, Weight, listed
from solidcopy.logs.entry import ReadOptions


@dataclass(frozen=True, slots=True)
class Moment:
    """When a line says that something was heard."""

    line_number: int
    layout: int
    """Number of its layout: dates of one are all written alike."""
    piece: int
    """Number of its piece of the file: each may begin on another day."""
    when: When
    """With the date of another column put in, if there is one."""


@dataclass(frozen=True, slots=True)
class Source:
    """What the file as a whole says about time."""

    name: str
    modified_utc: datetime
    date_lines: tuple[tuple[int, Days], ...] = ()
    is_local: bool = False
    """A heading says that its times are local, without a zone."""
    utc_line: int | None = None
    """Number of a remark that says UTC."""


def dated(
    moments: Sequence[Moment],
    source: Source,
    options: ReadOptions,
    modified: datetime,
    confession: Confession,
) -> list[date | None]:
    """The day of every line, None for an instant since 1970 or a date that makes no sense."""
    asked = _asked_date(options)
    carried = _with_date_lines(moments, source.date_lines)
    layouts = [moment.layout for moment in moments]
    days = _written(carried, layouts, options, modified.date(), confession)
    yearless = [
        place for place, day in enumerate(days) if day is not None and day[0] is None and day[1]
    ]
    if yearless:
        years = _years([days[place] for place in yearless], source, asked, modified, confession)
        for place, year in zip(yearless, years, strict=True):
            _, month, day_of_month = days[place] or (None, 0, 0)
            days[place] = (year, month, day_of_month)
    result = [_date(day) for day in days]
    clocks = [
        place for place, when in enumerate(carried) if when.days is None and not when.is_epoch
    ]
    if clocks:
        counted = [moments[place] for place in clocks]
        first_days = _counted(counted, source, asked, modified, confession)
        for place, counted_day in zip(clocks, first_days, strict=True):
            result[place] = counted_day
    return _past_midnight(moments, result, source, confession)


def _written(
    carried: Sequence[When],
    layouts: Sequence[int],
    options: ReadOptions,
    latest: date,
    confession: Confession,
) -> list[Day | None]:
    """Days as written, each layout in its own order; the year may be missing."""
    orders = {
        layout: _order(
            [when for when, one in zip(carried, layouts, strict=True) if one == layout],
            options,
            latest,
            confession,
        )
        for layout in dict.fromkeys(layouts)
    }
    return [
        None if when.days is None else when.days.get(orders[layout], (None, 0, 0))
        for when, layout in zip(carried, layouts, strict=True)
    ]


def _asked_date(options: ReadOptions) -> date | None:
    if options.date is None:
        return None
    try:
        return date.fromisoformat(options.date)
    except ValueError:
        raise LogError(f'--date: give a day like 2026-11-25, not "{options.date}"') from None


def _date(day: Day | None) -> date | None:
    if day is None or day[0] is None:
        return None
    try:
        return date(day[0], day[1], day[2])
    except ValueError:  # the 29th of February of a year that has none
        return None


def _with_date_lines(
    moments: Sequence[Moment], date_lines: Sequence[tuple[int, Days]]
) -> list[When]:
    """Clocks without a date get that of the line above that holds nothing else."""
    carried, current, waiting = [], None, list(date_lines)
    if waiting and not (moments and moments[0].when.days):
        current = waiting[0][1]
    for moment in moments:
        while waiting and waiting[0][0] < moment.line_number:
            current = waiting.pop(0)[1]
        has_day = moment.when.days is not None or moment.when.is_epoch
        carried.append(moment.when if has_day else replace(moment.when, days=current))
    return carried


def _order(
    carried: Sequence[When], options: ReadOptions, latest: date, confession: Confession
) -> str:
    written = [when.days for when in carried if when.days is not None]
    order = dates.order_of(written, options.dates, latest)
    if order.rivals:
        why = ", as the last is then that of the file" if order.is_sure else ""
        confession.assume(f"dates were read {order.name}{why}", "--dates")
    if not order.is_sure:
        rivals = " or ".join(order.rivals)
        confession.ask(Weight.DATE_ORDER, f"Are the dates {order.name}, or {rivals}?", "--dates")
    elif not order.rivals and any(len(set(day.values())) > 1 or len(day) == 1 for day in written):
        confession.found.append(f"dates are {order.name}")
    return order.name


def _years(
    days: Sequence[Day | None],
    source: Source,
    asked: date | None,
    modified: datetime,
    confession: Confession,
) -> list[int]:
    pairs = [(day[1], day[2]) for day in days if day is not None]
    in_name = dates.year_in_name(source.name)
    first = asked.year if asked else in_name
    years = dates.years_of(pairs, first=first, latest=modified.date())
    if asked:
        confession.found.append(f"the first line is of {asked.year}, as --date says")
    elif in_name:
        confession.assume(f"dates have no year; {in_name} stands in the file's name", "--date")
    else:
        confession.assume(
            f"dates have no year; {years[-1]} is the last that fits the day on which the file "
            f"was last written ({modified:%Y-%m-%d})",
            "--date",
        )
        confession.ask(Weight.DATE, "On which day, with its year, is the first line?", "--date")
    return years


def _counted(
    moments: Sequence[Moment],
    source: Source,
    asked: date | None,
    modified: datetime,
    confession: Confession,
) -> list[date]:
    """Days of clocks without any date, counted over the midnights that must have passed."""
    counter = dates.DayCounter()
    days = [
        counter.day(moment.when.seconds, piece=_piece(moment), line_number=moment.line_number)
        for moment in moments
    ]
    in_name = dates.date_in_name(source.name)
    first = asked or in_name
    if first is None:
        last_day, last_s = max(
            (day, moment.when.seconds) for day, moment in zip(days, moments, strict=True)
        )
        midnight = modified.replace(hour=0, minute=0, second=0, microsecond=0)
        is_before = last_s > (modified - midnight).total_seconds() + 60.0
        first = modified.date() - timedelta(days=last_day + is_before)
        confession.assume(
            f"there is no date; the first line was put on {first}, as the file was last "
            f"written on {modified:%Y-%m-%d %H:%M}",
            "--date",
        )
        confession.ask(Weight.DATE, "On which day is the first line?", "--date")
    elif asked is None:
        confession.assume(f"there is no date; {first} stands in the file's name", "--date")
    else:
        confession.found.append(f"the first line is of {asked}, as --date says")
    _confess_counting(counter, confession)
    return [first + timedelta(days=day) for day in days]


def _piece(moment: Moment) -> tuple[int, int]:
    return moment.layout, moment.piece


def _confess_counting(counter: dates.DayCounter, confession: Confession) -> None:
    if counter.midnights:
        confession.assume(f"midnight passed before {listed(counter.midnights)}")
    if counter.restarts:
        confession.assume(
            f"another layout begins earlier at {listed(counter.restarts)}: it was put on the "
            "first day again"
        )


def _past_midnight(
    moments: Sequence[Moment],
    days: Sequence[date | None],
    source: Source,
    confession: Confession,
) -> list[date | None]:
    """Below a line with nothing but a date, midnight may pass unsaid."""
    if not source.date_lines:
        return list(days)
    result: list[date | None] = []
    counters: dict[date, dates.DayCounter] = {}
    for moment, day in zip(moments, days, strict=True):
        if day is None or moment.when.days is not None:
            result.append(day)
            continue
        counter = counters.setdefault(day, dates.DayCounter())
        n_later = counter.day(
            moment.when.seconds, piece=_piece(moment), line_number=moment.line_number
        )
        result.append(day + timedelta(days=n_later))
    for counter in counters.values():
        _confess_counting(counter, confession)
    return result
