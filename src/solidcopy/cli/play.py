"""`solidcopy play`: a campaign through a sound device, to a station that listens."""

import json
import signal
import sys
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from solidcopy.errors import PlanError

if TYPE_CHECKING:
    from solidcopy.actions.play_campaign import LiveProgress


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
        _confirm(bench.statement(), is_said=safe_path, is_asking=not lines)
        bench.confirm()
    show = _Shown(as_json)
    show.line(bench.clock_sentence())
    with _Stop() as stop, ExitStack() as stack:
        for progress in stack.enter_context(closing(bench.carry_out(lambda: not stop.is_asked))):
            show.progress(progress)
    if stop.is_asked:
        raise typer.Exit(STOPPED)


def _confirm(statement: str, *, is_said: bool, is_asking: bool) -> None:
    typer.echo(statement, err=True)
    if is_said:
        return
    if not is_asking or not sys.stdin.isatty():
        raise PlanError("this output was not confirmed: read the above, then add --safe-path")
    if not typer.confirm("Does all of this hold?", err=True):
        raise typer.Exit(1)


class _Stop:
    """Ctrl-C asks for a clean end; the slot on its way is lost, nothing else."""

    def __init__(self) -> None:
        self.is_asked = False

    def __enter__(self) -> "_Stop":
        self._before = signal.signal(signal.SIGINT, self._ask)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self._before)

    def _ask(self, _: int, __: FrameType | None) -> None:
        self.is_asked = True


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
