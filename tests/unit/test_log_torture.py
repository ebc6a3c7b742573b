"""Every way in which a log goes wrong: what is read, assumed, dropped and asked."""

import pytest

from log_clocks import all_cases
from log_files import HEARD, WRITTEN, Case
from solidcopy.errors import LogError
from solidcopy.logs.entry import LogReading, ReadOptions
from solidcopy.logs.read import read_log

pytestmark = pytest.mark.derived  # each expectation is what stands in the file beside it


def read(case: Case) -> LogReading:
    return read_log(
        case.content,
        name=case.file_name,
        modified_utc=WRITTEN,
        options=ReadOptions(**case.options),
    )


@pytest.mark.parametrize("case", all_cases(), ids=lambda case: case.name)
def test_a_file_gives_its_entries_and_its_confession(case: Case) -> None:
    reading = read(case)
    entries = reading.entries
    assert len(entries) == case.n_entries
    if entries:
        assert entries[0].utc.isoformat().startswith(case.first_utc)
        assert entries[-1].utc.isoformat().startswith(case.last_utc)
        assert (entries[0].snr_db is None) == (entries[0].snr_reference_hz is None)
        assert entries[0].snr_db == case.snr_db
    found = {group.reason: len(group.lines) for group in reading.dropped}
    assert len(found) == len(case.dropped), found
    for word, n_lines in case.dropped.items():
        assert [n for reason, n in found.items() if word in reason] == [n_lines], found
    said = [assumption.sentence for assumption in reading.assumptions]
    assert len(said) == len(case.assumed), said
    for word in case.assumed:
        assert any(word in sentence for sentence in said), (word, said)
    asked = reading.question.option if reading.question else None
    assert asked == case.asks, reading.question


@pytest.mark.parametrize("case", all_cases(), ids=lambda case: case.name)
def test_every_line_is_accounted_for(case: Case) -> None:
    """Entries, dropped lines, headings and lines that only hold a date are all there is."""
    reading = read(case)
    if case.name == "json list":
        return  # line numbers count members there, and that is said
    kept = {entry.line.number for entry in reading.entries}
    dropped = {line.number for group in reading.dropped for line in group.lines}
    assert not kept & dropped
    lines = case.content.decode("latin-1").replace("\x00", "").split("\n")
    n_joined = sum(entry.line.raw.count("\n") for entry in reading.entries)
    n_silent = reading.n_lines - n_joined - len(kept) - len(dropped)
    assert 0 <= n_silent <= 2, lines
    for entry in reading.entries:
        assert entry.text in " ".join(entry.line.raw.split())


def test_the_figures_are_read() -> None:
    case = next(case for case in all_cases() if case.name == "unicode minus")
    found = [
        (f"{e.utc:%H:%M:%S}", e.text, e.snr_db, e.audio_hz, e.time_offset_s)
        for e in read(case).entries
    ]
    assert found == list(HEARD)


def test_an_unused_snr_is_kept_unread() -> None:
    case = next(case for case in all_cases() if case.name == "bare snr")
    assert read(case).entries[0].other == {"SNR": "-12,5"}
    assert read(case).entries[0].audio_hz == 1200.0


@pytest.mark.parametrize(
    ("content", "options", "word"),
    [
        (b"", {}, "empty"),
        (b"\x00\x01\x02\x03" * 100, {}, "no text"),
        (bytes(range(256)) * 40, {}, "no text"),
        (b"\n\n \r\n", {}, "empty"),
        (b"18:30;CQ Q1ABC\n", {"times_in": "Atlantis/Centre"}, "no zone"),
        (b"18:30;CQ Q1ABC\n", {"date": "yesterday"}, "--date"),
        (b"18:30;CQ Q1ABC\n", {"columns": "time,words"}, '"words" is no role'),
        (b"1.2.2026 18:30;CQ Q1ABC\n", {"dates": "week-first"}, "--dates"),
        (b"13.2.2026 18:30;CQ Q1ABC\n", {"dates": "month-first"}, "no date of the file"),
    ],
)
def test_bad_input_is_one_sentence(content: bytes, options: dict[str, str], word: str) -> None:
    with pytest.raises(LogError) as raised:
        read_log(content, name="x.txt", modified_utc=WRITTEN, options=ReadOptions(**options))
    assert word in str(raised.value)
    assert "\n" not in str(raised.value)
