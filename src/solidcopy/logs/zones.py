"""From the clock of a log to UTC: zones, the hour that comes twice, the hour that is left out."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from solidcopy.errors import LogError
from solidcopy.logs.clock import zone_offset_s

STEP_BACK = timedelta(minutes=2)
"""A clock that runs back farther was set back; lines may be out of order by less."""


@dataclass(frozen=True, slots=True)
class Converted:
    """Local times in UTC."""

    utc: tuple[datetime | None, ...]
    """None for a time that the zone leaves out."""
    twice: tuple[int, ...]
    """Places of times that the zone has twice."""
    second: tuple[int, ...]
    """Those of them that were taken for the second."""


def zone_named(text: str) -> tzinfo:
    """UTC, a fixed offset or a zone of the time-zone database. Raises LogError."""
    if text.strip().upper() in ("UTC", "GMT", "Z"):
        return UTC
    offset_s = zone_offset_s(text.strip()) if re.match(r"[+-]", text.strip()) else None
    if offset_s is not None:
        return timezone(timedelta(seconds=offset_s))
    try:
        return ZoneInfo(text.strip())
    except (KeyError, ValueError, OSError):
        raise LogError(
            f'--times-in: "{text}" is no zone; give "UTC", a place such as "Europe/Berlin", or '
            'an offset such as "+01:00"'
        ) from None


def to_utc(times: Sequence[datetime], zone: tzinfo) -> Converted:
    """Naive local times, in the order of their lines, as UTC.

    In the hour that comes twice when clocks go back, times are taken for the first until they
    step back, for the second from there on.
    """
    utc: list[datetime | None] = []
    twice, second = [], []
    before: datetime | None = None
    is_second = False
    for place, local in enumerate(times):
        first_utc = local.replace(tzinfo=zone, fold=0).astimezone(UTC)
        other_utc = local.replace(tzinfo=zone, fold=1).astimezone(UTC)
        if first_utc == other_utc:
            utc.append(first_utc)
            is_second, before = False, local
            continue
        if first_utc > other_utc:  # the zone leaves this time out
            utc.append(None)
            continue
        twice.append(place)
        if before is not None and local < before - STEP_BACK:
            is_second = True
        if is_second:
            second.append(place)
        utc.append(other_utc if is_second else first_utc)
        before = local
    return Converted(tuple(utc), tuple(twice), tuple(second))
