"""`solidcopy play`: a campaign through a sound device, to a station that listens."""

import json
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from solidcopy.cli.confirm import confirm

if TYPE_CHECKING:
    from solidcopy.actions.live_report import LiveProgress
    from solidcopy.actions.live_wishes import Wishes


def play(
    source: Annotated[Path, typer.Argument(help="A plan file with a receiver of kind station.")],
    *,
    log: Annotated[
        Path | None, typer.Option("--log", help="The station's text log, which grows.")
    ] = None,
    lines: Annotated[
        bool, typer.Option("--lines", help="The log's lines come in on standard input instead.")
    ] = False,
    own_ear: Annotated[
        str | None,
        typer.Option("--own-ear", help="Our own receiver listens to this sound input instead."),
    ] = None,
    output: Annotated[
        str | None, typer.Option("--output", help="Sound output by number or name (see `cards`).")
    ] = None,
    station: Annotated[
        str | None, typer.Option("--station", help="Which one, if the plan has several.")
    ] = None,
    every: Annotated[
        int | None, typer.Option("--every", min=1, max=2, help="2: only each second slot.")
    ] = None,
    gain_db: Annotated[
        float | None, typer.Option("--gain-db", help="Of the sound, 0 or less.")
    ] = None,
    slots: Annotated[int | None, typer.Option("--slots", min=1, help="Stop after so many.")] = None,
    times_in: Annotated[
        str | None, typer.Option("--times-in", help="Time zone of the log, e.g. Europe/Berlin.")
    ] = None,
    columns: Annotated[
        str | None, typer.Option("--columns", help="Columns of the log, as in `log read`.")
    ] = None,
    time_server: Annotated[
        str | None, typer.Option("--time-server", help="Compare this machine's clock with it.")
    ] = None,
    safe_path: Annotated[
        bool,
        typer.Option("--safe-path", help="You have read what is to be confirmed, and it holds."),
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="One line for each step, for a program.")
    ] = False,
) -> None:
    """Play a campaign to a station that listens, on slots of UTC. Ctrl-C stops; the same command
    goes on.
    """
    from solidcopy.actions.live_bench import LiveBench, LiveRequest
    from solidcopy.cli.live import STOPPED
    from solidcopy.logs.entry import ReadOptions

    request = LiveRequest(
        source=source,
        station=station,
        log=log,
        lines=sys.stdin.buffer if lines else None,
        own_ear=own_ear,
        reading=ReadOptions(times_in=times_in, columns=columns),
        output=output,
        every=every,
        gain_db=gain_db,
        most_slots=slots,
        time_server=time_server,
    )
    bench = LiveBench(request)
    if not bench.set_up.is_confirmed:
        confirm(bench.statement(), is_said=safe_path, is_asking=not lines)
        bench.confirm()
    show = _Shown(as_json)
    show.line(bench.clock_sentence())
    if not lines and sys.stdin.isatty():
        show.line("p and Enter pauses and goes on, s and Enter skips a slot, Ctrl-C stops.")
        threading.Thread(target=_listen, args=(bench.wishes,), daemon=True).start()
    with _stopping(bench.wishes), closing(bench.carry_out()) as playing:
        for progress in playing:
            show.progress(progress)
    if bench.wishes.is_stopped:
        raise typer.Exit(STOPPED)


@contextmanager
def _stopping(wishes: "Wishes") -> Iterator[None]:
    """Ctrl-C asks for a clean end; the slots on their way are lost, nothing else."""

    def ask(_: int, __: FrameType | None) -> None:
        wishes.is_stopped = True

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _listen(wishes: "Wishes") -> None:
    """Letters typed into the terminal."""
    for line in sys.stdin:
        letter = line.strip().lower()
        if letter == "s":
            wishes.skip()
        elif letter == "p":
            wishes.turn()


@dataclass(slots=True)
class _Shown:
    """Lines on the terminal."""

    as_json: bool
    message: str = ""

    def line(self, text: str) -> None:
        if not self.as_json:
            typer.echo(text)

    def progress(self, progress: "LiveProgress") -> None:
        if self.as_json:
            print(json.dumps(progress.as_dict()), flush=True)
            return
        for slot in progress.slots:
            typer.echo(slot.sentence())
        if progress.message != self.message or progress.slots:
            typer.echo(progress.sentence())
        self.message = progress.message
