"""`solidcopy capture`: a sound device into files, one for each slot."""

import sys
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

METER_LETTERS = 30
METER_FLOOR_DBFS = -60.0


def capture(
    out: Annotated[Path, typer.Argument(help="Folder for the files.")],
    *,
    source: Annotated[
        str | None, typer.Option("--input", help="Sound input by number or name (see `cards`).")
    ] = None,
    mode: Annotated[str, typer.Option("--mode", help="ft8 or ft4: the length of a slot.")] = "ft8",
    rate_hz: Annotated[
        int, typer.Option("--rate-hz", min=8_000, max=48_000, help="Of the files.")
    ] = 12_000,
    slots: Annotated[int | None, typer.Option("--slots", min=1, help="Stop after so many.")] = None,
) -> None:
    """Record a sound device into files, one for each slot. With a level meter; Ctrl-C ends it.

    A slot in which the device lost sound is named in slots.csv and not kept.
    """
    from solidcopy.actions.capture_slots import CaptureOptions, capture_slots
    from solidcopy.modes.registry import slotted_mode
    from solidcopy.soundcard.card import CardInput
    from solidcopy.soundcard.clock import SystemClock

    slot_s = slotted_mode(mode, "capture").facts.slot_s
    options = CaptureOptions(out, slot_s, rate_hz, most_slots=slots)
    is_terminal = sys.stderr.isatty()
    message = ""
    try:
        with closing(capture_slots(CardInput(source), SystemClock(), options)) as capturing:
            for progress in capturing:
                if is_terminal:
                    meter = _meter(progress.peak_dbfs)
                    print(f"\r{meter} {progress.n_kept} kept ", end="", file=sys.stderr)
                if progress.slot is not None:
                    typer.echo(f"{chr(13) if is_terminal else ''}{progress.slot.sentence()}")
                if progress.message != message:
                    typer.echo(progress.message)
                message = progress.message
    except KeyboardInterrupt:
        typer.echo("ended; whole slots are kept")


def _meter(peak_dbfs: float) -> str:
    share = max(0.0, 1.0 - peak_dbfs / METER_FLOOR_DBFS)
    n = min(METER_LETTERS, round(share * METER_LETTERS))
    return f"{'#' * n}{'.' * (METER_LETTERS - n)} {max(peak_dbfs, METER_FLOOR_DBFS):6.1f} dBFS peak"
