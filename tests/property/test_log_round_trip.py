"""Known receptions, written in a layout drawn at random, come back as they were, or are asked."""

import json
import random
import string
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from solidcopy.errors import LogError
from solidcopy.logs.entry import LogReading, ReadOptions
from solidcopy.logs.read import read_log

pytestmark = pytest.mark.derived  # what is read back must be what was written

START = datetime(2026, 1, 1, tzinfo=UTC)
CODECS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be")
DELIMITERS = ("\t", ";", "|", ",", "json")
NAMES = {
    "time": ("heard at", "clock", "when"),
    "day": ("date", "day"),
    "text": ("words copied", "message", "text"),
    "snr": ("snr", "S/N", "snr_db"),
    "tone": ("tone Hz", "audio_hz", "pitch"),
    "late": ("late s", "time offset", "lag"),
    "note": ("remark", "operator"),
}


@dataclass(frozen=True)
class Reception:
    utc: datetime
    text: str
    snr_db: float
    audio_hz: float
    late_s: float


@dataclass(frozen=True)
class Style:
    delimiter: str
    codec: str
    columns: tuple[str, ...]
    has_heading: bool
    comma: bool
    minus: str
    date_form: str
    one_cell: bool
    zone: str
    name_choice: int


def call(draw: random.Random) -> str:
    return f"Q{draw.randint(0, 9)}{''.join(draw.choices(string.ascii_uppercase, k=3))}"


def message(draw: random.Random) -> str:
    tail = draw.choice(["73", "RR73", "RRR", f"{draw.randint(-24, 9):+03d}", "JO01", "R-07"])
    return draw.choice([f"{call(draw)} {call(draw)} {tail}", f"CQ {call(draw)} FN42"])


@st.composite
def receptions(draw: st.DrawFn) -> list[Reception]:
    chance = random.Random(draw(st.integers(0, 10**9)))
    n = draw(st.integers(3, 12))
    start = START + timedelta(seconds=15 * draw(st.integers(0, 2_000_000)))
    return [
        Reception(
            start + timedelta(seconds=15 * place),
            message(chance),
            round(chance.uniform(-25, -1), 1),
            round(chance.uniform(300, 2700), 1),
            round(chance.uniform(-1, 1), 2),
        )
        for place in range(n)
    ]


@st.composite
def styles(draw: st.DrawFn) -> Style:
    delimiter = draw(st.sampled_from(DELIMITERS))
    columns = draw(st.permutations(["text", "snr", "tone", "late", "note"]))
    return Style(
        delimiter=delimiter,
        codec=draw(st.sampled_from(CODECS)),
        columns=tuple(columns[: draw(st.integers(3, 5))]),
        has_heading=draw(st.booleans()),
        comma=draw(st.booleans()),
        minus=draw(st.sampled_from("-−")),
        date_form=draw(st.sampled_from(["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%y%m%d"])),
        one_cell=draw(st.booleans()),
        zone=draw(st.sampled_from(["UTC", "Europe/Berlin", "America/St_Johns", "Asia/Tokyo"])),
        name_choice=draw(st.integers(0, 5)),
    )


def cells(reception: Reception, style: Style) -> dict[str, str]:
    local = reception.utc.astimezone(ZoneInfo(style.zone))
    day, clock = local.strftime(style.date_form), local.strftime("%H:%M:%S")
    figures = {
        "snr": f"{reception.snr_db:.1f}",
        "tone": f"{reception.audio_hz:.1f}",
        "late": f"{reception.late_s:.2f}",
    }
    for name, figure in figures.items():
        written = figure.replace("-", style.minus)
        figures[name] = written.replace(".", ",") if style.comma else written
    when = {"time": f"{day} {clock}"} if style.one_cell else {"day": day, "time": clock}
    chosen = {"text": reception.text, "note": "harbour", **figures}
    return {**when, **{name: chosen[name] for name in style.columns}}


def written(log: list[Reception], style: Style) -> bytes:
    rows = [cells(reception, style) for reception in log]
    named = {name: NAMES[name][style.name_choice % len(NAMES[name])] for name in rows[0]}
    if style.delimiter == "json":
        lines = [json.dumps({named[name]: cell for name, cell in row.items()}) for row in rows]
        return ("\n".join(lines) + "\n").encode(style.codec)
    mark = style.delimiter
    quote = '"' if mark == "," and style.comma else ""
    lines = [mark.join(f"{quote}{cell}{quote}" for cell in row.values()) for row in rows]
    heading = [mark.join(named.values())] if style.has_heading else []
    return ("\n".join(heading + lines) + "\n").encode(style.codec)


def read(content: bytes, style: Style, log: list[Reception]) -> LogReading:
    options = ReadOptions(times_in=style.zone, snr_reference_hz=2500.0)
    return read_log(
        content,
        name="harbour.txt",
        modified_utc=log[-1].utc + timedelta(days=400),
        options=options,
    )


def is_twice(utc: datetime, zone: str) -> bool:
    local = utc.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    both = {local.replace(tzinfo=ZoneInfo(zone), fold=fold).utcoffset() for fold in (0, 1)}
    return len(both) > 1


@settings(max_examples=200, deadline=None)
@given(log=receptions(), style=styles())
def test_what_was_written_is_read_back_or_asked(log: list[Reception], style: Style) -> None:
    reading = read(written(log, style), style, log)
    event(reading.question.option if reading.question else "nothing asked")
    if reading.question is not None and reading.question.option == "--columns":
        assert "text" not in style.columns
        return
    if "text" not in style.columns:
        # Whatever was taken for the text is none of the figures.
        assert all(entry.text == "harbour" for entry in reading.entries)
        return
    distinct = {(r.utc, r.text): r for r in log}
    assert len(reading.entries) == len(distinct)
    is_asked = reading.question is not None
    for entry in reading.entries:
        same = [r for r in distinct.values() if r.text == entry.text]
        if not (is_asked or any(is_twice(r.utc, style.zone) for r in log)):
            assert entry.utc in {r.utc for r in same}
            same = [r for r in same if r.utc == entry.utc]
        assert same
        assert entry.dial_hz is None
        for name, found, sent in (
            ("snr", entry.snr_db, {r.snr_db for r in same}),
            ("tone", entry.audio_hz, {r.audio_hz for r in same}),
            ("late", entry.time_offset_s, {r.late_s for r in same}),
        ):
            if found is not None:
                assert name in style.columns
                assert found in sent, name
            elif name in style.columns:
                assert not style.has_heading and style.delimiter != "json", name
    if is_asked:
        assert reading.question is not None
        assert reading.question.option == "--dates"
        assert style.date_form in ("%d/%m/%Y", "%m/%d/%Y", "%y%m%d", "%d.%m.%Y")


FRAGMENTS = (
    "18:30:15", "2026-11-25", "03/04/26", "261125", "1830", "Nov 25", "1795631415", "-12", "−5,5",
    "1.234,5", "0,25", "85 %", "1200 Hz", "CQ Q3XYZ FN42", "Q1ABC Q3XYZ 73", "tx", "rx", ";", ",",
    "\t", "|", "  ", " ", "=", '"', "'", "{", "}", "[", "]", '{"utc": 1}', '"a":', "#", "time",
    "message", "snr", "UTC", "\r", "\n", "\n", "\n", "\ufeff", "\u0660", "ß", "\x0b", "<...>",
)  # fmt: skip


@settings(max_examples=250, deadline=None)
@given(
    pieces=st.lists(st.sampled_from(FRAGMENTS) | st.text(max_size=3), max_size=60),
    codec=st.sampled_from([*CODECS, "latin-1"]),
    columns=st.sampled_from([None, "time,text", "text=2,time=1", "snr,-,text,time,dial"]),
)
def test_any_text_is_read_or_refused_in_one_sentence(
    pieces: list[str], codec: str, columns: str | None
) -> None:
    content = "".join(pieces).encode(codec, "replace")
    options = ReadOptions(columns=columns, snr_reference_hz=2500.0)
    try:
        reading = read_log(content, name="x.txt", modified_utc=START, options=options)
    except LogError as error:
        assert "\n" not in str(error)
        return
    kept = [entry.line.number for entry in reading.entries]
    dropped = [line.number for group in reading.dropped for line in group.lines]
    assert len(set(kept + dropped)) == len(kept + dropped)
    assert all(entry.utc.utcoffset() == timedelta(0) and entry.text for entry in reading.entries)
