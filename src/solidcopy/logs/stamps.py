"""UTC for every line: the day, then the zone."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta, tzinfo

from solidcopy.logs import zones
from solidcopy.logs.confession import Confession, Weight, listed
from solidcopy.logs.days import Moment, Source, dated
from solidcopy.logs.entry import ReadOptions

COPY_TIME = timedelta(minutes=5)
"""Clocks of two machines may differ so much."""
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def utc_of(
    moments: Sequence[Moment], source: Source, options: ReadOptions, confession: Confession
) -> dict[int, datetime]:
    """UTC by line number; a line is missing if its time does not exist.

    Args:
        moments: in the order of their lines.
    Raises: LogError for an option that cannot be used.
    """
    if not moments:
        return {}
    zone = _zone(moments, source, options, confession)
    local_modified = source.modified_utc.astimezone(zone)
    days = dated(moments, source, options, local_modified, confession)
    found: dict[int, datetime] = {}
    naive: dict[tuple[int, int], list[tuple[Moment, datetime]]] = {}
    for moment, day in zip(moments, days, strict=True):
        when = moment.when
        if when.is_epoch:
            found[moment.line_number] = EPOCH + timedelta(seconds=when.seconds)
        elif day is not None:
            local = datetime(day.year, day.month, day.day) + timedelta(seconds=when.seconds)
            if when.offset_s is not None:
                stamp = local.replace(tzinfo=UTC) - timedelta(seconds=when.offset_s)
                found[moment.line_number] = stamp
            else:
                naive.setdefault((moment.layout, moment.piece), []).append((moment, local))
    for pairs in naive.values():
        found |= _converted(pairs, zone, confession)
    _confess_future(found, source, confession)
    return found


def _confess_future(found: Mapping[int, datetime], source: Source, confession: Confession) -> None:
    """A line that is newer than its file has a wrong zone, a wrong date, or came with a copy."""
    ahead = [number for number, utc in found.items() if utc > source.modified_utc + COPY_TIME]
    if ahead:
        confession.assume(
            f"later than the file, which was last written {source.modified_utc:%Y-%m-%d %H:%M} "
            f"UTC: {listed(sorted(ahead))}; kept, but zone or date may be wrong",
            "--times-in, --dates",
        )


def _zone(
    moments: Sequence[Moment], source: Source, options: ReadOptions, confession: Confession
) -> tzinfo:
    n_naive = sum(moment.when.offset_s is None for moment in moments)
    if options.times_in is not None:
        zone = zones.zone_named(options.times_in)
        confession.found.append(f"times are in {options.times_in}, as --times-in says")
        if n_naive < len(moments):
            confession.assume(
                f"{len(moments) - n_naive} lines name their own offset from UTC, which was used"
            )
        return zone
    if n_naive == 0:
        confession.found.append("times are in UTC, or name their offset from it")
    elif source.utc_line is not None and not source.is_local:
        confession.assume(f"times are in UTC, as line {source.utc_line} says", "--times-in")
    else:
        doubt = ", though the heading says local" if source.is_local else ""
        confession.assume(f"times were taken as UTC{doubt}", "--times-in")
        confession.ask(
            Weight.ZONE,
            "In which zone are the times: UTC, or local (then which, e.g. Europe/Berlin)?",
            "--times-in",
        )
    return UTC


def _converted(
    pairs: Sequence[tuple[Moment, datetime]], zone: tzinfo, confession: Confession
) -> dict[int, datetime]:
    converted = zones.to_utc([local for _, local in pairs], zone)
    numbers = [moment.line_number for moment, _ in pairs]
    if converted.twice:
        second = [numbers[place] for place in converted.second]
        how = (
            f"{listed(second)} for the second, as the clock stepped back there"
            if second
            else "all for the first, as no step back of the clock shows there"
        )
        twice = listed([numbers[place] for place in converted.twice])
        confession.assume(f"in the hour that comes twice when clocks go back: {twice}; taken {how}")
    return {
        number: utc for number, utc in zip(numbers, converted.utc, strict=True) if utc is not None
    }
