"""`solidcopy noise slots`: where known slots lie in a recording."""

import json
from pathlib import Path
from typing import Annotated

import typer

CANNOT_TELL = 1
"""Exit code if no slots were found."""


def slots(
    file: Annotated[Path, typer.Argument(help="A recording of some minutes with transmissions.")],
    *,
    mode: Annotated[
        str | None, typer.Option("--mode", help="ft8 (if left out) or ft4; the key's with --key.")
    ] = None,
    key: Annotated[
        Path | None,
        typer.Option("--key", help="Key file of `log slots`, or its folder, if that was played."),
    ] = None,
    reference_hz: Annotated[
        float | None,
        typer.Option("--reference-hz", help="True frequency of a steady tone in the recording."),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option("--start", help="When the first sample was taken, e.g. 2026-11-25T18:30:07Z."),
    ] = None,
    channel: Annotated[
        str | None, typer.Option("--channel", help="left, right, a number, or sum.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Find where slots begin in a recording. Also how fast the recorder ran, and how far its
    clock was off.

    Exit code 1: nothing can be told.
    """
    from solidcopy.actions.find_slots import find_slots_in, start_of_recording
    from solidcopy.noise.slots.find import SlotHints

    hints = SlotHints(reference_hz, start_of_recording(start) if start is not None else None)
    found = find_slots_in(file, mode, hints, channel=channel, key=key)
    typer.echo(json.dumps(found.as_dict()) if as_json else found.text())
    if found.found.first_edge is None:
        raise typer.Exit(CANNOT_TELL)
