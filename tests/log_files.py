"""Decode logs with everything that goes wrong in real life, in layouts of our own.

Four receptions stand in most of them; what differs is how they are written.
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

WRITTEN = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
"""When the files were last written."""

HEARD = (
    ("18:30:15", "Q1ABC Q2DEF JO01", -12.5, 1200.0, 0.25),
    ("18:30:30", "CQ Q3XYZ FN42", -5.0, 734.5, -0.1),
    ("18:31:00", "Q2DEF Q1ABC -07", -21.0, 1500.0, 0.4),
    ("18:31:15", "Q1ABC Q2DEF RR73", -8.5, 1201.0, 0.3),
)
"""Time on the 25th of November 2026 in UTC, text, SNR in 2500 Hz in dB, audio in Hz, late by s."""

HEADING = "message;heard at (UTC);SNR in 2500 Hz;tone Hz;late s"


def semicolons(heading: str | None = HEADING, *, comma: bool = True) -> str:
    rows = [
        f"{text};2026-11-25 {time};{snr};{audio};{late}" for time, text, snr, audio, late in HEARD
    ]
    body = "\n".join(rows).replace(".", ",") if comma else "\n".join(rows)
    return (f"{heading}\n" if heading else "") + body + "\n"


def blanks(*, day: str = "2026-11-25 ", behind: bool = False) -> str:
    """Figures behind the text, or the text behind them."""
    lines = [
        f"{day}{time} {text} {audio} {snr}" if behind else f"{day}{time} {audio} {snr} {text}"
        for time, text, snr, audio, _ in HEARD
    ]
    return "\n".join(lines) + "\n"


def notes(note: str) -> str:
    """With a quoted cell before the text."""
    return "time,note,message,tone,snr 2500 Hz\n" + "".join(
        f'2026-11-25T{time}Z,"{note}",{said},{audio},{snr}\n' for time, said, snr, audio, _ in HEARD
    )


@dataclass(frozen=True)
class Case:
    """One file and what must come of it."""

    name: str
    content: bytes
    options: dict[str, Any] = field(default_factory=dict)
    file_name: str = "harbour.txt"
    n_entries: int = 4
    first_utc: str = "2026-11-25T18:30:15"
    last_utc: str = "2026-11-25T18:31:15"
    dropped: dict[str, int] = field(default_factory=dict)
    """A word of each reason: number of lines."""
    assumed: tuple[str, ...] = ()
    """Words that stand in one assumption each; there are no others."""
    asks: str | None = None
    """Option that answers the question."""
    snr_db: float | None = -12.5
    """Of the first entry."""


def text(content: str, codec: str = "utf-8") -> bytes:
    return content.encode(codec)


UTC_ASKED = {"times_in": "UTC", "snr_reference_hz": 2500.0}
BLANKS_SAID = ("by its figures",)


def encodings() -> list[Case]:
    minus = semicolons().replace(";-", ";−")
    umlaut = semicolons().replace("message", "Nachricht für Später")
    return [
        Case("utf-8", text(semicolons())),
        Case("utf-8 with mark", text(semicolons(), "utf-8-sig")),
        Case("utf-16 with mark", text(semicolons(), "utf-16")),
        Case("utf-16 little-endian", text(semicolons(), "utf-16-le"), assumed=("UTF-16",)),
        Case("utf-16 big-endian", text(semicolons(), "utf-16-be"), assumed=("UTF-16",)),
        Case(
            "utf-16 cut in two",
            text(semicolons(), "utf-16")[:-3],
            assumed=("no number in the offset cell of line 5", "last figure may be cut"),
        ),
        Case("latin-1", text(umlaut, "latin-1"), assumed=("Latin-1",)),
        Case("unicode minus", text(minus)),
        Case("old line ends", text(semicolons().replace("\n", "\r"))),
        Case("two-character line ends", text(semicolons().replace("\n", "\r\n"))),
    ]


def numbers() -> list[Case]:
    quoted = ",".join(("when", "tone", "SNR_2500Hz", "words")) + "\n"
    quoted += "".join(
        f'"2026-11-25T{time}Z","{audio}","{snr}","{said}"\n'.replace(".", ",")
        for time, said, snr, audio, _ in HEARD
    )
    grouped = "\n".join(
        f"2026-11-25 {time}Z | {said} | {audio:09,.2f} Hz | {snr:.1f} dB | 85 %".replace(" 0", " ")
        .replace(",", "'").replace(".", ",").replace("'", ".")
        for time, said, snr, audio, _ in HEARD
    )  # fmt: skip
    return [
        Case("decimal comma in quotes", text(quoted)),
        Case(
            "points between thousands, units, percent",
            text(grouped + "\n"),
            {"snr_reference_hz": 2500.0},
            assumed=BLANKS_SAID,
        ),
        Case(
            "a cell without a number",
            text(semicolons().replace("-5,0", "--")),
            assumed=("no number in the snr cell of line 3",),
        ),
        Case("snr in 500 Hz", text(semicolons().replace("2500", "500"))),
        Case(
            "bare snr",
            text(semicolons().replace("SNR in 2500 Hz", "SNR")),
            assumed=("was not used",),
            asks="--snr-reference-hz",
            snr_db=None,
        ),
        Case(
            "an offset in Hz is no time offset",
            text("utc;said;offset\n2026-11-25 18:30:15;Q1ABC Q2DEF JO01;1200\n"
                 "2026-11-25 18:31:15;CQ Q3XYZ FN42;734\n"),
            n_entries=2,
            assumed=('"offset" looks like audio',),
            snr_db=None,
        ),
        Case(
            "figures that no SNR has",
            text(semicolons().replace("-12,5", "-512,5").replace("-5,0", "905,0")),
            assumed=("headed like snr",),
            snr_db=None,
        ),
        Case(
            "small figures may be offset or snr",
            text("".join(f"{t};{w};{late}\n" for t, w, _, _, late in HEARD)),
            {"times_in": "UTC", "date": "2026-11-25"},
            assumed=("column 3 could be offset or snr: not read",),
            snr_db=None,
        ),
        Case("late in ms", text(semicolons().replace("late s", "late ms"))),
        Case(
            "bare snr, answered",
            text(semicolons().replace("SNR in 2500 Hz", "SNR")),
            {"snr_reference_hz": 3000.0},
        ),
        Case(
            "percent headed as snr",
            text("utc;said;snr\n2026-11-25 18:30:15;Q1ABC Q2DEF JO01;85 %\n"
                 "2026-11-25 18:31:15;CQ Q3XYZ FN42;99 %\n"),
            n_entries=2,
            assumed=("headed like snr",),
            snr_db=None,
        ),
    ]  # fmt: skip


def layouts() -> list[Case]:
    said = {"times_in": "UTC", "snr_reference_hz": 2500.0}
    json_lines = "".join(
        f'{{"words": "{words}", "at": "2026-11-25T{time}+00:00", "tone": {{"hz": {audio}}}, '
        f'"snr_2500_hz": {snr}}}\n'
        for time, words, snr, audio, _ in HEARD
    )
    tabs = semicolons().replace(";", "\t")
    sent = "Q2DEF Q1ABC 73;2026-11-25 18:31:30;tx"
    marked = "".join(f"{w};2026-11-25 {t};rx\n" for t, w, *_ in HEARD) + sent + "\n"
    gaps = "\n".join(f"{a:>7}   {w:<22}   2026-11-25 {t}   {s}" for t, w, s, a, _ in HEARD)
    pairs = "".join(
        f'utc=2026-11-25T{t} tone={a} snr_2500hz={s} message="{w}"\n' for t, w, s, a, _ in HEARD
    )
    edged = "| tone | UTC | words |\n|---|---|---|\n" + "".join(
        f"| {a} | 2026-11-25 {t} | {w} |\n" for t, w, _, a, _ in HEARD
    )
    bracketed = "".join(f"[2026-11-25] [{t}]: ({a}) <{s}> {w}\n" for t, w, s, a, _ in HEARD)
    no_columns = "".join(f"{t};{a};{s}\n" for t, _, s, a, _ in HEARD)
    return [
        Case("tabs", text(tabs)),
        Case(
            "as a spreadsheet saves it",
            text(semicolons().replace(";", "\t").replace("\n", "\r\n"), "utf-16"),
        ),
        Case("commas and quotes in quotes", text(notes('harbour, west ""dimmer"", on'))),
        Case("line ends in quotes", text(notes('fence ""east"",\non\n\nat dusk'))),
        Case("a quote that is never closed", text(notes("x").replace('"x"', '9" pole'))),
        Case("bars", text(semicolons().replace(";", " | "))),
        Case("json lines", text(json_lines)),
        Case(
            "json list",
            text("[" + json_lines.strip().replace("\n", ",\n") + "]\n"),
            assumed=("JSON list",),
        ),
        Case("names and values", text(pairs)),
        Case("bars at the edges", text(edged), dropped={"no time": 1}, snr_db=None),
        Case("brackets around figures", text(bracketed), said, assumed=BLANKS_SAID),
        Case(
            "a mark instead of a number",
            text(blanks().replace(" -5.0 ", " ? ")),
            said,
            assumed=(*BLANKS_SAID, "no number in the snr cell of line 2"),
        ),
        Case(
            "a binary blob between",
            text(semicolons() + "x=" + " " * 100_000 + "y\n"),
            dropped={"no time": 1},
        ),
        Case("no heading", text(semicolons(None)), said, assumed=BLANKS_SAID),
        Case("blanks, text last", text(blanks()), said, assumed=BLANKS_SAID),
        Case("blanks, text first", text(blanks(behind=True)), said, assumed=BLANKS_SAID),
        Case("wide gaps", text(gaps + "\n"), said, assumed=BLANKS_SAID),
        Case(
            "direction column", text(marked), {"times_in": "UTC"}, dropped={"sent": 1}, snr_db=None
        ),
        Case(
            "sent lines between",
            text(blanks().replace("18:31:00", "18:30:45 TX Q3XYZ Q1ABC JO01\n2026-11-25 18:31:00")),
            said,
            assumed=BLANKS_SAID,
            dropped={"sent": 1},
        ),
        Case(
            "a directed call is not sent by us",
            text(blanks().replace("CQ Q3XYZ", "CQ TX Q3XYZ")),
            said,
            assumed=BLANKS_SAID,
        ),
        Case(
            "no text",
            text(no_columns),
            said,
            n_entries=0,
            dropped={"no text": 4},
            asks="--columns",
        ),
        Case(
            "columns by order",
            text(semicolons(None)),
            {**said, "columns": "text,time,snr,audio,offset"},
        ),
        Case(
            "columns by name",
            text(semicolons("a;b;c;d;e")),
            {**said, "columns": "text=a,time=2,snr=c"},
        ),
    ]  # fmt: skip
