"""`solidcopy log`: read decode logs, play known slots, score a log against them."""

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.errors import LogError
from solidcopy.logs.entry import ReadOptions

app = typer.Typer(
    no_args_is_help=True,
    help="Read decode logs of any layout, and score one against slots whose content is known.",
)

AsJson = Annotated[bool, typer.Option("--json", help="Print for a program.")]
LogFile = Annotated[Path, typer.Argument(help="A decode log: text, CSV, JSON lines, any columns.")]
TimesIn = Annotated[
    str | None, typer.Option("--times-in", help='"UTC", "Europe/Berlin" or "+01:00".')
]
Dates = Annotated[str | None, typer.Option("--dates", help="year-first, day-first or month-first.")]
Date = Annotated[str | None, typer.Option("--date", help="Day of the first line, e.g. 2026-11-25.")]
SnrReference = Annotated[
    float | None,
    typer.Option("--snr-reference-hz", min=1.0, help="Bandwidth that the SNR refers to."),
]
ColumnRoles = Annotated[
    str | None,
    typer.Option(
        "--columns",
        help='Roles in order ("time,snr,-,text"), or by heading or number ("text=3,snr=level"); '
        "time, date, text, snr, snr-reference, audio, offset, dial, direction, - for any other.",
    ),
]
KeepLast = Annotated[
    bool, typer.Option("--keep-last-line", help="Even if the file ends within it.")
]


@app.command("read")
def read(
    file: LogFile,
    *,
    times_in: TimesIn = None,
    dates: Dates = None,
    date: Date = None,
    snr_reference_hz: SnrReference = None,
    columns: ColumnRoles = None,
    keep_last_line: KeepLast = False,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the entries: FILE.jsonl or FILE.csv.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Read a log and confess: what was found, assumed and dropped. Asks one question at most."""
    from solidcopy.actions.read_log import read_log_file, write_entries

    options = ReadOptions(
        times_in=times_in,
        dates=dates,
        date=date,
        snr_reference_hz=snr_reference_hz,
        columns=columns,
        keep_last_line=keep_last_line,
    )
    result = read_log_file(file, options)
    question = result.reading.question
    if question is not None and not as_json and sys.stdin.isatty() and sys.stdout.isatty():
        typer.echo(result.text())
        answer = typer.prompt(question.sentence, default="", show_default=False)
        if answer:
            result = read_log_file(file, answered(options, question.option, answer))
    typer.echo(json.dumps(result.as_dict(), ensure_ascii=False) if as_json else result.text())
    if not result.reading.entries:
        raise typer.Exit(LogError.exit_code)
    if out is not None:
        for path in write_entries(result, out):
            typer.echo(path, err=as_json)


def answered(options: ReadOptions, option: str, answer: str) -> ReadOptions:
    """The options with one answer put in."""
    answer = answer.strip()
    match option:
        case "--times-in":
            return replace(options, times_in=answer)
        case "--dates":
            return replace(options, dates=answer)
        case "--date":
            return replace(options, date=answer)
        case "--columns":
            return replace(options, columns=answer)
        case "--snr-reference-hz":
            return replace(options, snr_reference_hz=bandwidth_hz(answer))
    raise ValueError(f"no question is answered by {option}")


def bandwidth_hz(text: str) -> float:
    """A bandwidth typed by a person. Raises LogError."""
    try:
        value = float(text.lower().removesuffix("hz"))
    except ValueError:
        value = 0.0
    if not 1.0 <= value <= 1e6:
        raise LogError(f'"{text}" is no bandwidth in Hz; give e.g. 2500')
    return value
