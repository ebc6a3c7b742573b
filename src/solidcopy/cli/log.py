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
    help="Read decode logs of any layout, and score them. "
    "A score is against slots whose content is known.",
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
Source = Annotated[Path, typer.Argument(help="A plan file, or a campaign folder.")]
Start = Annotated[
    str, typer.Option("--start", help='UTC of the first slot, or "next" (in two minutes).')
]
SlotFolder = Annotated[Path, typer.Option("--out", help="Folder for sound and schedule.")]
PerPoint = Annotated[
    int, typer.Option("--per-point", help="Trials for each condition and axis value.")
]
Nothing = Annotated[
    int, typer.Option("--nothing", help="Slots for each condition in which nothing is sent.")
]
Conditions = Annotated[
    list[str] | None, typer.Option("--condition", help="Only this one; may be repeated.")
]
Every = Annotated[int, typer.Option("--every", help="2: a silent slot behind each one, and so on.")]
Trials = Annotated[
    str, typer.Option("--trials", help='Named trials instead, e.g. "1@-19#0 1@nothing#3".')
]
Blind = Annotated[
    bool, typer.Option("--blind", help="Keep the key out of the folder and the schedule.")
]
SlotFiles = Annotated[bool, typer.Option("--slot-files", help="One sound file for each slot.")]
KeyFile = Annotated[Path, typer.Argument(help="The key that `log slots` wrote, or its folder.")]
TimeTolerance = Annotated[
    float | None,
    typer.Option("--time-tolerance-s", help="A quarter of a slot if left out."),
]
HzTolerance = Annotated[float, typer.Option("--hz-tolerance", help="Around the lowest tone.")]
LateBy = Annotated[
    float, typer.Option("--late-s", help="The log stamps lines so long after slot starts.")
]
CampaignFolder = Annotated[
    Path | None,
    typer.Option("--campaign", help="Keep it as a campaign, for `report` and `compare`."),
]
ReceiverName = Annotated[str, typer.Option("--name", help="Of the receiver, for tables.")]


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
    """Read a log and confess what was assumed. Also what was found and dropped; asks one question
    at most."""
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
        answer = typer.prompt(question.option, default="", show_default=False)
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


@app.command("slots")
def slots(
    source: Source,
    *,
    start: Start,
    out: SlotFolder,
    per_point: PerPoint = 5,
    nothing: Nothing = 10,
    condition: Conditions = None,
    every: Every = 1,
    trials: Trials = "",
    blind: Blind = False,
    slot_files: SlotFiles = False,
) -> None:
    """Write trials as sound for slots at known times. They are played into a station's software.

    Into a file, a cable or a dummy load only, never on the air; begin at the lowest volume.
    """
    from solidcopy.actions.make_slots import CAUTION, SlotRequest, make_slots, start_for

    request = SlotRequest(
        start=start_for(source, start),
        out=out,
        per_point=per_point,
        nothing_sent=nothing,
        conditions=tuple(condition or ()),
        every=every,
        trials=tuple(trials.split()),
        is_blind=blind,
        is_one_file=not slot_files,
    )
    for made in make_slots(source, request):
        if made.n_made % 50 == 0 or made.n_made == made.n_slots:
            typer.echo(f"{made.n_made} of {made.n_slots} slots")
    typer.echo(f"first slot at {request.start:%Y-%m-%d %H:%M:%S} UTC\n{made.schedule}\n{made.key}")
    if made.n_repeated:
        typer.echo(
            f"{made.n_repeated} messages are sent in several conditions: a program that remembers "
            "calls gains by that; start it anew for each, with --condition NAME"
        )
    typer.echo(CAUTION)


@app.command("score")
def score(
    file: LogFile,
    key: KeyFile,
    *,
    time_tolerance_s: TimeTolerance = None,
    hz_tolerance: HzTolerance = 25.0,
    late_s: LateBy = 0.0,
    times_in: TimesIn = None,
    dates: Dates = None,
    date: Date = None,
    snr_reference_hz: SnrReference = None,
    columns: ColumnRoles = None,
    keep_last_line: KeepLast = False,
    campaign: CampaignFolder = None,
    name: ReceiverName = "station",
    as_json: AsJson = False,
) -> None:
    """Score a log against what was played. Right, wrong, nothing; false decodes; thresholds."""
    from solidcopy.actions.log_score_words import score_dict, score_text
    from solidcopy.actions.score_log import ScoreRequest, score_log

    options = ReadOptions(
        times_in=times_in,
        dates=dates,
        date=date,
        snr_reference_hz=snr_reference_hz,
        columns=columns,
        keep_last_line=keep_last_line,
    )
    scored = score_log(ScoreRequest(file, key, options, time_tolerance_s, hz_tolerance, late_s))
    typer.echo(json.dumps(score_dict(scored)) if as_json else score_text(scored))
    if campaign is not None:
        from solidcopy.actions.import_log import import_log

        kept = import_log(scored, campaign, name=name)
        typer.echo(f"campaign: {kept}; next: solidcopy report {kept}", err=as_json)
