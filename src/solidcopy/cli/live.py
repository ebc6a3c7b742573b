"""A campaign on the terminal: the growing curves, then the answer and the report's path."""

import json
import sys
import time
from collections.abc import Generator, Iterator
from contextlib import closing
from dataclasses import asdict
from pathlib import Path
from typing import Any

import typer
from rich.console import Console
from rich.live import Live
from rich.text import Text

from solidcopy.actions.folder import existing_folder, folder_of
from solidcopy.actions.report import write_report
from solidcopy.actions.run import RunOptions, read_status, run_campaign
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.campaigns.progress import Progress
from solidcopy.reports.terminal import progress_text, summary_text

STOPPED = 130
"""Exit code after Ctrl-C, as shells have it."""
PLAIN_EVERY_S = 5.0
"""Without a terminal, one line so often."""


def carry_out(source: Path, options: RunOptions, *, as_json: bool) -> None:
    """Run, show, and end with the report, or with what to do with a share. Ctrl-C says how far it
    came, and ends with 130.
    """
    folder = options.folder or folder_of(source)
    show = _show_json if as_json else _show_live if sys.stdout.isatty() else _show_lines
    try:
        with closing(run_campaign(source, options)) as stream:
            show(stream)
    except KeyboardInterrupt:
        done = read_status(folder).line() if (folder / JOURNAL_FILE).is_file() else "nothing done"
        typer.echo(f"stopped: {done}; the same command goes on", err=True)
        raise typer.Exit(STOPPED) from None
    if options.share is None:
        conclude(folder, None, as_json=as_json)
    elif not as_json:
        typer.echo(
            f"share {options.share} is done: {folder.resolve()}\nPut it together with the others: "
            "solidcopy merge CAMPAIGN CAMPAIGN --into FOLDER"
        )


def _show_json(stream: Iterator[Progress]) -> None:
    for progress in stream:
        typer.echo(json.dumps(progress_json(progress)))


def _show_live(stream: Iterator[Progress]) -> None:
    with Live(console=Console(highlight=False), refresh_per_second=4) as live:
        for progress in stream:
            live.update(Text(progress_text(progress)))


def _show_lines(stream: Iterator[Progress]) -> None:
    said_s = -PLAIN_EVERY_S
    for progress in stream:
        now_s = time.monotonic()
        if now_s - said_s >= PLAIN_EVERY_S or progress.is_finished:
            typer.echo(progress.line())
            said_s = now_s


def follow(stream: Generator[Progress]) -> None:
    """Run to the end, one line now and then on the error output. Ctrl-C ends with 130."""
    said_s = -PLAIN_EVERY_S
    try:
        with closing(stream):
            for progress in stream:
                if progress.is_finished or time.monotonic() - said_s >= PLAIN_EVERY_S:
                    typer.echo(progress.line(), err=True)
                    said_s = time.monotonic()
    except KeyboardInterrupt:
        typer.echo("stopped; the same command goes on", err=True)
        raise typer.Exit(STOPPED) from None


def progress_json(progress: Progress) -> dict[str, Any]:
    """For a program: one object, e.g. on a line of its own."""
    return {"event": "progress", **asdict(progress)}


def conclude(
    source: Path, out: Path | None, *, with_pdf: bool = False, as_json: bool = False
) -> None:
    """Write the report; print the answer, a table and, last, the report's path."""
    written = write_report(existing_folder(source), out, with_pdf=with_pdf)
    if as_json:
        typer.echo(
            json.dumps(
                {
                    "event": "report",
                    "answer": written.headline,
                    "report": str(written.paths.html),
                    **({"pdf": str(written.paths.pdf)} if written.paths.pdf else {}),
                }
            )
        )
        return
    typer.echo(summary_text(written.facts))
    if written.paths.pdf is not None:
        typer.echo(f"PDF: {written.paths.pdf.resolve()}")
    typer.echo(f"report: {written.paths.html.resolve()}")
