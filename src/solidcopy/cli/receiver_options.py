"""Options that describe an outside program: one for each field of its settings in a plan."""

from pathlib import Path
from typing import Annotated

import typer

SettingsFile = Annotated[
    Path | None, typer.Argument(help="A plan, or a file with [[receivers]]; else options.")
]
Name = Annotated[
    str | None, typer.Option("--name", help="Of the receiver; needed if a file has several.")
]
Command = Annotated[
    str | None,
    typer.Option(
        "--command",
        help="The program and its arguments, e.g. './decoder {audio_file}'; quotes hold one "
        "argument together, no shell is run.",
    ),
]
SoundBy = Annotated[
    str | None,
    typer.Option("--sound-by", help="file: see {audio_file} (default); stdin: standard input."),
]
SoundName = Annotated[
    str | None,
    typer.Option("--sound-name", help="Of the sound file, e.g. '{slot_clock}.wav' (slot.wav)."),
]
SampleRateHz = Annotated[
    int | None,
    typer.Option("--sample-rate-hz", help="Of the sound it wants (as recorded: 12000)."),
]
WordLength = Annotated[
    str | None,
    typer.Option("--word-length", help="Of a sample: 16-bit (default), 24-bit, 32-bit, float."),
]
Channels = Annotated[
    int | None, typer.Option("--channels", help="1 (default), or 2 that hold the same.")
]
Answer = Annotated[
    str | None,
    typer.Option("--answer", help="How decodes are told: lines, json-lines or columns."),
]
Line = Annotated[
    str | None,
    typer.Option(
        "--line", help="Layout of a line with a decode, e.g. '{audio_hz} Hz {skip} {text}'."
    ),
]
Pattern = Annotated[
    str | None,
    typer.Option("--pattern", help="The same as a regular expression, e.g. '(?P<text>Q.+)'."),
]
Delimiter = Annotated[
    str | None,
    typer.Option("--delimiter", help="Between columns: one letter (a comma), tab, or spaces."),
]
TextIn = Annotated[
    str | None,
    typer.Option("--text-in", help="JSON name, or column (name or number), of the message."),
]
SnrDbIn = Annotated[str | None, typer.Option("--snr-db-in", help="The same of the SNR.")]
AudioHzIn = Annotated[
    str | None, typer.Option("--audio-hz-in", help="The same of the audio frequency.")
]
TimeOffsetSIn = Annotated[
    str | None, typer.Option("--time-offset-s-in", help="The same of the time offset.")
]
AnswerFile = Annotated[
    str | None,
    typer.Option("--answer-file", help="Name of the file it writes its decodes to."),
]
SnrReferenceHz = Annotated[
    float | None,
    typer.Option("--snr-reference-hz", help="Bandwidth that its SNR refers to, if it is read."),
]
SnrDbOffset = Annotated[
    float | None, typer.Option("--snr-db-offset", help="Added to its SNR, dB (0).")
]
AudioHzScale = Annotated[
    float | None, typer.Option("--audio-hz-scale", help="Its frequency times this, in Hz (1).")
]
AudioHzOffset = Annotated[
    float | None,
    typer.Option("--audio-hz-offset", help="Then added: ours is the lowest tone, Hz (0)."),
]
TimeOffsetSScale = Annotated[
    float | None,
    typer.Option("--time-offset-s-scale", help="Its time offset times this, in s (1)."),
]
TimeOffsetSOffset = Annotated[
    float | None,
    typer.Option("--time-offset-s-offset", help="Then added, s (0)."),
]
Environment = Annotated[
    list[str] | None,
    typer.Option("--environment", help="NAME=VALUE for its environment; may be repeated."),
]
WorkingFolder = Annotated[
    str | None,
    typer.Option("--working-folder", help="fresh for each slot (default), or kept: it remembers."),
]
SlotTime = Annotated[
    str | None,
    typer.Option("--slot-time", help="Start of the slot it is told (2026-01-01T00:00:00Z)."),
]
TimeLimitS = Annotated[
    float | None, typer.Option("--time-limit-s", help="A slower answer is a failure (30).")
]
MemoryLimitMb = Annotated[
    int | None, typer.Option("--memory-limit-mb", help="Of all its processes together (2000).")
]
OutputLimitBytes = Annotated[
    int | None, typer.Option("--output-limit-bytes", help="Of all it writes (1000000).")
]
OkExitCode = Annotated[
    list[int] | None,
    typer.Option("--ok-exit-code", help="Any other is a failure (0); may be repeated."),
]
AtMostAtOnce = Annotated[
    int | None,
    typer.Option("--at-most-at-once", help="Copies on this machine (one for each worker)."),
]
ProgramFile = Annotated[
    str | None,
    typer.Option("--program-file", help="Whose digest is kept (the program, or its script)."),
]
ProgramVersion = Annotated[
    str | None,
    typer.Option("--program-version", help="Change it, and old trials no longer count (1)."),
]
