"""More decode logs: clocks, dates, and files made of pieces."""

from log_files import (
    BLANKS_SAID,
    HEARD,
    Case,
    blanks,
    encodings,
    layouts,
    numbers,
    semicolons,
    text,
)


def times() -> list[Case]:
    said = {"snr_reference_hz": 2500.0}
    utc = {**said, "times_in": "UTC"}
    no_zone = blanks().replace("2026-11-25", "25.11.2026")
    slashes = blanks(day="11/12/2026 ")
    autumn = "".join(
        f"2026-10-25 {t} 1200.5 {w}\n"
        for t, w in (
            ("01:59:45", "CQ Q3XYZ FN42"),
            ("02:59:45", "Q3XYZ Q1ABC JO01"),
            ("02:00:15", "Q1ABC Q3XYZ -11"),
            ("03:00:15", "Q3XYZ Q1ABC R-02"),
        )
    )
    night = "".join(
        f"{t} 1200.5 {w}\n"
        for t, w in (
            ("23:59:45", "CQ Q3XYZ FN42"),
            ("23:59:30", "Q3XYZ Q1ABC JO01"),
            ("00:00:15", "Q1ABC Q3XYZ -11"),
        )
    )
    turn = "Dec 31 23:59:45 1200 -3 CQ Q1ABC JO01\nJan 1 00:00:15 1200 -3 CQ Q2DEF JO02\n"
    night_utc = {"first_utc": "2026-11-24T23:59:30", "last_utc": "2026-11-25T00:00:15"}
    return [
        Case("zone not said", text(no_zone), said, assumed=(*BLANKS_SAID, "taken as UTC"),
             asks="--times-in"),
        Case(
            "local heading",
            text(semicolons().replace("(UTC)", "(local)")),
            assumed=("though the heading says local",),
            asks="--times-in",
        ),
        Case("local", text(no_zone), {**said, "times_in": "Europe/Berlin"}, assumed=BLANKS_SAID,
             first_utc="2026-11-25T17:30:15", last_utc="2026-11-25T17:31:15"),
        Case("fixed offset", text(no_zone), {**said, "times_in": "-05:00"},
             assumed=(*BLANKS_SAID, "later than the file"),
             first_utc="2026-11-25T23:30:15", last_utc="2026-11-25T23:31:15"),
        Case("day or month first", text(slashes), utc,
             assumed=(*BLANKS_SAID, "read month-first"), asks="--dates",
             first_utc="2026-11-12T18:30:15", last_utc="2026-11-12T18:31:15"),
        Case("day first, answered", text(slashes), {**utc, "dates": "day-first"},
             assumed=(*BLANKS_SAID, "later than the file"),
             first_utc="2026-12-11T18:30:15", last_utc="2026-12-11T18:31:15"),
        Case("six digits, written the same day", text(blanks(day="261125 ")), utc,
             assumed=(*BLANKS_SAID, "as the last is then that of the file")),
        Case("seconds since 1970",
             text(blanks(day="").replace("18:30:15", "1795631415").replace("18:30:30", "1795631430")
                  .replace("18:31:00", "1795631460").replace("18:31:15", "1795631475")),
             said, assumed=BLANKS_SAID),
        Case("afternoon", text(semicolons().replace(" 18:", " 6:").replace("15;", "15 PM;")
                               .replace("30;", "30 PM;").replace("00;-21", "00 PM;-21"))),
        Case("month by name, year missing", text(blanks(day="Nov 25 ")), utc,
             assumed=(*BLANKS_SAID, "2026 is the last that fits"), asks="--date"),
        Case("year in the name", text(blanks(day="Nov 25 ")), utc, "harbour-2024.txt",
             assumed=(*BLANKS_SAID, "in the file's name"),
             first_utc="2024-11-25T18:30:15", last_utc="2024-11-25T18:31:15"),
        Case("no date", text(blanks(day="")), utc,
             assumed=(*BLANKS_SAID, "there is no date"), asks="--date"),
        Case("date in the name", text(blanks(day="")), utc, "harbour-2026-03-01.txt",
             assumed=(*BLANKS_SAID, "in the file's name"),
             first_utc="2026-03-01T18:30:15", last_utc="2026-03-01T18:31:15"),
        Case("date answered", text(blanks(day="")), {**utc, "date": "2025-06-07"},
             assumed=BLANKS_SAID,
             first_utc="2025-06-07T18:30:15", last_utc="2025-06-07T18:31:15"),
        Case("date on a line of its own", text("--- 2026-11-24 ---\n" + blanks(day="")
             + "--- 2026-11-25 ---\n" + blanks(day="")), utc, n_entries=8,
             assumed=BLANKS_SAID, first_utc="2026-11-24T18:30:15"),
        Case("midnight", text(night), {"times_in": "UTC"}, n_entries=3, snr_db=None,
             assumed=(*BLANKS_SAID, "no date", "midnight passed before line 3"), asks="--date",
             **night_utc),
        Case("year turns, year missing", text(turn), utc,
             assumed=(*BLANKS_SAID, "2026 is the last that fits"), asks="--date", n_entries=2,
             first_utc="2025-12-31T23:59:45", last_utc="2026-01-01T00:00:15", snr_db=-3.0),
        Case("year turns in local time", text(turn), {**said, "times_in": "Europe/Berlin",
                                                      "date": "2024-12-31"}, n_entries=2,
             assumed=BLANKS_SAID, snr_db=-3.0,
             first_utc="2024-12-31T22:59:45", last_utc="2024-12-31T23:00:15"),
        Case("midnight in summer time", text(night), {"times_in": "Europe/Berlin",
                                                      "date": "2026-06-30"}, n_entries=3,
             assumed=(*BLANKS_SAID, "midnight passed before line 3"), snr_db=None,
             first_utc="2026-06-30T21:59:30", last_utc="2026-06-30T22:00:15"),
        Case("hour that comes twice", text(autumn), {"times_in": "Europe/Berlin"}, snr_db=None,
             assumed=(*BLANKS_SAID, "line 3 for the second"),
             first_utc="2026-10-24T23:59:45", last_utc="2026-10-25T02:00:15"),
        Case("hour that is left out", text(autumn.replace("2026-10-25", "2026-03-29")),
             {"times_in": "Europe/Berlin"}, n_entries=2, snr_db=None, assumed=BLANKS_SAID,
             dropped={"does not exist": 2},
             first_utc="2026-03-29T00:59:45", last_utc="2026-03-29T01:00:15"),
        Case("each its own offset",
             text(semicolons().replace("18:30:15", "19:30:15+01:00").replace("18:31", "13:31")
                  .replace("13:31:00", "13:31:00-05:00").replace("13:31:15", "18:31:15Z")
                  .replace("18:30:30", "18:30:30Z"))),
    ]  # fmt: skip


def pieces() -> list[Case]:
    said = {"times_in": "UTC", "snr_reference_hz": 2500.0}
    other = "".join(f"{t} / {a} / {w}\n" for t, w, _, a, _ in HEARD)
    earlier = semicolons().replace("18:3", "16:3")
    return [
        Case("half-written last line", text(semicolons()[:-1] + "\nQ2DEF Q3XYZ JO"),
             dropped={"half written": 1}),
        Case("text cut at the end", text(blanks() + "2026-11-25 18:31:30 700 -3 CQ Q3X"), said,
             assumed=(*BLANKS_SAID, "may be cut: dropped"), dropped={"half written": 1}),
        Case("text cut at the end, kept", text(blanks() + "2026-11-25 18:31:30 700 -3 CQ Q3X"),
             {**said, "keep_last_line": True}, n_entries=5, assumed=BLANKS_SAID,
             last_utc="2026-11-25T18:31:30"),
        Case("no line end after a figure", text(semicolons()[:-1]),
             assumed=("last figure may be cut",)),
        Case("heading again, block out of order", text(semicolons() + earlier), n_entries=8,
             dropped={"a heading again": 1}, first_utc="2026-11-25T16:30:15"),
        Case("two programs, one file",
             text(semicolons() + "tone / said / when\n" + "".join(
                 f"{a}\t{w}\t2026-11-25T{t}Z\n" for t, w, _, a, _ in HEARD)),
             assumed=BLANKS_SAID, n_entries=8),
        Case("two programs line by line",
             text("".join(f"{w};2026-11-25 {t};{a}\nheard,{w},25.11.2026 {t}\n"
                          for t, w, _, a, _ in HEARD)), said, n_entries=8, snr_db=None,
             assumed=BLANKS_SAID),
        Case("a remark names the clock", text("all times UTC\n" + blanks()),
             {"snr_reference_hz": 2500.0},
             assumed=(*BLANKS_SAID, "in UTC, as line 1 says"), dropped={"no time": 1}),
        Case("two programs without dates", text(blanks(day="") + other), said, n_entries=8,
             assumed=("column 3 looks like snr", "column 3 looks like audio", "no date",
                      "another layout begins earlier"), asks="--date"),
        Case("two files joined, marks and all",
             text(semicolons(), "utf-8-sig") + text(earlier, "utf-8-sig"), n_entries=8,
             dropped={"a heading again": 1}, first_utc="2026-11-25T16:30:15"),
        Case("zeros behind the last line", text(semicolons()) + bytes(40),
             assumed=("40 zero bytes",)),
        Case("zeros after half a line", text(semicolons() + "Q2DEF Q3XYZ JO") + bytes(4096),
             assumed=("4096 zero bytes",), dropped={"half written": 1}),
        Case("zeros between two runs", text(semicolons()) + bytes(4096) + text(earlier),
             n_entries=8, assumed=("4096 zero bytes",), dropped={"a heading": 1, "empty": 1},
             first_utc="2026-11-25T16:30:15"),
        Case("two programs, one in UTC, one with its offset", text(semicolons() + "".join(
                 f"{a}\t{w}\t2026-11-25 {int(t[:2]) + 1}{t[2:]}+01:00\n"
                 for t, w, _, a, _ in HEARD)), n_entries=8, assumed=BLANKS_SAID),
        Case("duplicates", text(semicolons() + "".join(semicolons().splitlines(True)[2:])),
             dropped={"the same": 3}),
        Case("remarks and empty lines",
             text("# station by the harbour\n\n" + semicolons() + "\nlamp dimmer on\n"),
             dropped={"no time": 2, "empty": 2}),
        Case("a line of another kind", text(semicolons() + "2026-11-25 18:32:00;antenna changed\n"),
             dropped={"another layout": 1}),
    ]  # fmt: skip


def all_cases() -> list[Case]:
    return [*encodings(), *numbers(), *layouts(), *times(), *pieces()]
