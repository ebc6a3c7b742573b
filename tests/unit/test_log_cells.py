"""Numbers, dates and clocks, cell by cell; and hours that come twice or not at all."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from solidcopy.errors import LogError
from solidcopy.logs import words
from solidcopy.logs.clock import DAY_FIRST, MONTH_FIRST, YEAR_FIRST, parse_days, parse_when
from solidcopy.logs.dates import DayCounter, date_in_name, order_of, year_in_name, years_of
from solidcopy.logs.entry import Role
from solidcopy.logs.numbers import decimal_mark, parse_number
from solidcopy.logs.zones import to_utc, zone_named

pytestmark = pytest.mark.derived  # what a person reads in each cell


@pytest.mark.parametrize(
    ("cell", "point", "comma"),
    [
        ("-20,5", -20.5, -20.5),
        ("−20.5 dB", -20.5, -20.5),
        ("–7", -7.0, -7.0),
        ("1.234,56", 1234.56, 1234.56),
        ("1,234.56", 1234.56, 1234.56),
        ("1\u202f234,5", 1234.5, 1234.5),
        ("1'234", 1234.0, 1234.0),
        ("1,234", 1234.0, 1.234),
        ("14.074", 14.074, 14074.0),
        ("0,125", 0.125, 0.125),
        ("+05", 5.0, 5.0),
        ("85 %", 85.0, 85.0),
        ("--", None, None),
        ("12-3", None, None),
        ("1,2,3", None, None),
        ("nan", None, None),
        ("R-12", None, None),
        ("", None, None),
    ],
)
def test_numbers(cell: str, point: float | None, comma: float | None) -> None:
    for mark, expected in ((".", point), (",", comma)):
        found = parse_number(cell, mark)
        assert (found.value if found else None) == expected


@pytest.mark.parametrize(
    ("cells", "mark", "is_certain"),
    [
        (["-20,5", "0,25"], ",", True),
        (["-20.5", "1,234"], ".", True),
        (["1.234", "0,5"], ",", True),
        (["1,234", "2,345"], ".", False),
        (["14.074", "7.038"], ".", True),
        (["12", "-3"], ".", True),
    ],
)
def test_decimal_marks(cells: list[str], mark: str, is_certain: bool) -> None:
    found = decimal_mark(cells)
    assert (found.mark, found.is_certain) == (mark, is_certain)


@pytest.mark.parametrize(
    ("cell", "seconds"),
    [
        ("18:30:15", 66615.0),
        ("6:30:15 pm", 66615.0),
        ("12:00 AM", 0.0),
        ("18.30.15", 66615.0),
        ("18h30", 66600.0),
        ("183015", 66615.0),
        ("1830", 66600.0),
        ("18:30:15,250", 66615.25),
        ("25:00", None),
        ("18:60", None),
        ("13:00 pm", None),
        ("246015", None),
        ("CQ", None),
    ],
)
def test_clocks(cell: str, seconds: float | None) -> None:
    found = parse_when(cell)
    assert (found.seconds if found else None) == seconds


def test_offsets_and_instants() -> None:
    found = parse_when("2026-11-25T18:30:15+05:30")
    assert found is not None
    assert (found.offset_s, found.days) == (19800, {YEAR_FIRST: (2026, 11, 25)})
    epoch = parse_when("1795631415.5")
    assert epoch is not None and epoch.is_epoch
    # 2026-11-25 18:30:15.5 UTC, by the standard library.
    assert datetime.fromtimestamp(epoch.seconds, UTC).isoformat()[:21] == "2026-11-25T18:30:15.5"


@pytest.mark.parametrize(
    ("cell", "days"),
    [
        ("2026-11-25", {YEAR_FIRST: (2026, 11, 25)}),
        ("25/11/2026", {DAY_FIRST: (2026, 11, 25)}),
        ("03/04/2026", {DAY_FIRST: (2026, 4, 3), MONTH_FIRST: (2026, 3, 4)}),
        ("25.11.", {DAY_FIRST: (None, 11, 25)}),
        ("29/02/2026", None),
        ("32/01/2026", None),
        ("Nov 25", dict.fromkeys((YEAR_FIRST, DAY_FIRST, MONTH_FIRST), (None, 11, 25))),
        ("25. Dezember 2026", dict.fromkeys((YEAR_FIRST, DAY_FIRST, MONTH_FIRST), (2026, 12, 25))),
        ("18.30", None),
        ("FN42", None),
    ],
)
def test_dates(cell: str, days: dict[str, tuple[int | None, int, int]] | None) -> None:
    assert parse_days(cell) == days


def test_order_by_the_day_on_which_the_file_was_written() -> None:
    days = [parse_days("03/04/2026") or {}]
    assert order_of(days, None, date(2026, 4, 3)).name == DAY_FIRST
    found = order_of(days, None, date(2026, 3, 4))
    assert (found.name, found.rivals, found.is_sure) == (MONTH_FIRST, (DAY_FIRST,), True)
    assert not order_of(days, None, date(2026, 12, 1)).is_sure


def test_dates_in_names() -> None:
    assert date_in_name("harbour_20261125.txt") == date(2026, 11, 25)
    assert date_in_name("harbour 25.11.2026.txt") == date(2026, 11, 25)
    assert date_in_name("harbour-20261399.txt") is None
    assert year_in_name("harbour-2025.txt") == 2025
    assert year_in_name("harbour-120251.txt") is None


def test_years_over_new_year() -> None:
    days = [(12, 31), (12, 31), (1, 1), (1, 2)]
    assert years_of(days, first=2025, latest=date(2030, 1, 1)) == [2025, 2025, 2026, 2026]
    assert years_of(days, first=None, latest=date(2026, 3, 1)) == [2025, 2025, 2026, 2026]
    assert years_of([(12, 31)], first=None, latest=date(2026, 3, 1)) == [2025]


def test_midnights_of_a_clock_without_dates() -> None:
    hours = [22.0, 23.9, 23.8, 0.1, 23.95, 0.2, 5.0, 20.0, 1.0]
    counter = DayCounter()
    days = [counter.day(3600 * h, piece=(0, 0), line_number=n) for n, h in enumerate(hours, 1)]
    assert days == [0, 0, 0, 1, 0, 1, 1, 1, 2]
    assert counter.midnights == [4, 9]


def test_hour_that_comes_twice_agrees_with_the_zone_database() -> None:
    zone = ZoneInfo("Europe/Berlin")
    sent = [
        datetime(2026, 10, 24, 23, 50, tzinfo=UTC) + timedelta(minutes=10 * n) for n in range(16)
    ]
    local = [utc.astimezone(zone).replace(tzinfo=None) for utc in sent]
    found = to_utc(local, zone)
    assert list(found.utc) == sent
    assert len(found.twice) == 12


def test_hour_that_is_left_out() -> None:
    found = to_utc([datetime(2026, 3, 29, 2, 30)], ZoneInfo("Europe/Berlin"))
    assert found.utc == (None,)


@pytest.mark.parametrize(
    ("text", "hours"), [("UTC", 0.0), ("+05:30", 5.5), ("-3", -3.0), ("Asia/Tokyo", 9.0)]
)
def test_zones(text: str, hours: float) -> None:
    offset = datetime(2026, 1, 1, tzinfo=zone_named(text)).utcoffset()
    assert offset == timedelta(hours=hours)


@pytest.mark.parametrize("text", ["", "Harbour", "../etc", "+99:00", "18:30"])
def test_no_zones(text: str) -> None:
    with pytest.raises(LogError, match="no zone"):
        zone_named(text)


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ("SNR (dB in 2500 Hz)", Role.SNR),
        ("snr_reference_hz", Role.SNR_REFERENCE),
        ("Time offset [s]", Role.OFFSET),
        ("audio offset / Hz", Role.AUDIO),
        ("heard at (UTC)", Role.TIME),
        ("Datum", Role.DATE),
        ("message text", Role.TEXT),
        ("dial MHz", Role.DIAL),
        ("operator", None),
    ],
)
def test_headings(heading: str, role: Role | None) -> None:
    assert words.role_of(heading) is role


def test_reference_bandwidth_in_a_heading() -> None:
    assert words.reference_hz("snr_db_2500hz") == 2500.0
    assert words.reference_hz("SNR in 2.5 kHz") == 2500.0
    assert words.reference_hz("SNR dB") is None
