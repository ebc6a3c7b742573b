"""`solidcopy receiver`: make ready what is put under test."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.cli import receiver_options as told

NOT_READ = 1
"""Exit code if the loud slot was not read."""

app = typer.Typer(no_args_is_help=True, help="Make receivers ready for a test.")


@app.callback()
def options() -> None:
    """Make receivers ready for a test."""


@app.command("try")
def try_program(  # noqa: PLR0917
    context: typer.Context,
    settings: told.SettingsFile = None,
    name: told.Name = None,
    command: told.Command = None,
    sound_by: told.SoundBy = None,
    sound_name: told.SoundName = None,
    sample_rate_hz: told.SampleRateHz = None,
    word_length: told.WordLength = None,
    channels: told.Channels = None,
    answer: told.Answer = None,
    line: told.Line = None,
    pattern: told.Pattern = None,
    delimiter: told.Delimiter = None,
    text_in: told.TextIn = None,
    snr_db_in: told.SnrDbIn = None,
    audio_hz_in: told.AudioHzIn = None,
    time_offset_s_in: told.TimeOffsetSIn = None,
    answer_file: told.AnswerFile = None,
    snr_reference_hz: told.SnrReferenceHz = None,
    snr_db_offset: told.SnrDbOffset = None,
    audio_hz_scale: told.AudioHzScale = None,
    audio_hz_offset: told.AudioHzOffset = None,
    time_offset_s_scale: told.TimeOffsetSScale = None,
    time_offset_s_offset: told.TimeOffsetSOffset = None,
    environment: told.Environment = None,
    working_folder: told.WorkingFolder = None,
    slot_time: told.SlotTime = None,
    time_limit_s: told.TimeLimitS = None,
    memory_limit_mb: told.MemoryLimitMb = None,
    output_limit_bytes: told.OutputLimitBytes = None,
    ok_exit_code: told.OkExitCode = None,
    at_most_at_once: told.AtMostAtOnce = None,
    program_file: told.ProgramFile = None,
    program_version: told.ProgramVersion = None,
    mode: Annotated[
        str | None, typer.Option("--mode", help="Of the slots; the plan's, or ft8, if left out.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the settings there, for a plan.")
    ] = None,
    may_replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Try an outside program on three slots. A loud, a faint and a noise-only one; asks what is
    missing. What its settings are by default stands in brackets."""
    from solidcopy.receivers.program.system import check_system

    check_system()
    from solidcopy.actions.receiver_options import FIELDS, Given, settings_from
    from solidcopy.cli.receiver_wizard import Snippet, ask_missing, conclude_try

    said = {key: context.params[key] for key in FIELDS if context.params[key] not in (None, [], ())}
    given = Given(settings, name, said)
    mode_name = mode or given.mode
    if sys.stdin.isatty() and not as_json:
        given = ask_missing(given, mode_name)
    chosen = settings_from(given)
    if not conclude_try(chosen, mode_name, Snippet(given.plan_folder, out, may_replace, as_json)):
        raise typer.Exit(NOT_READ)
