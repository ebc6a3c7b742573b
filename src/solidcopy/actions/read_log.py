"""Read a decode log of any layout and keep what was heard."""

import csv
import io
import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from solidcopy import __version__
from solidcopy.errors import LogError
from solidcopy.logs.entry import Dropped, Entry, LogReading, ReadOptions
from solidcopy.logs.read import read_log as read_content
from solidcopy.reports.wording import counted

MAX_BYTES = 500_000_000
MEMORY_PER_BYTE = 35
"""Taken for each byte of a log while it is read, at most: the whole is weighed at once."""
N_SHOWN = 3
"""Lines shown of each reason for dropping."""
FIELDS = ("time_utc", "text", "snr_db", "snr_reference_hz", "audio_hz", "time_offset_s", "dial_hz")
SUFFIXES = (".jsonl", ".csv")


@dataclass(frozen=True, slots=True)
class ReadFile:
    """A log that was read."""

    file: Path
    reading: LogReading

    def as_dict(self) -> dict[str, Any]:
        """For a program: the confession, then the entries."""
        reading = self.reading
        return {
            **_confession(self.file, reading),
            "entries": [entry_fields(entry) for entry in reading.entries],
        }

    def text(self) -> str:
        """For a person."""
        return "\n".join(_sentences(self.file, self.reading))


def read_log_file(file: Path, options: ReadOptions) -> ReadFile:
    """Read a log.

    Args:
        file: text in any layout.
        options: what the user says about it.
    Raises: LogError if it cannot be opened, is no text, or an option cannot be used.
    """
    try:
        if file.stat().st_size > MAX_BYTES:
            raise LogError(f"{file}: is larger than {MAX_BYTES // 1_000_000} MB; cut it in pieces")
        _refuse_beyond_memory(file)
        content = file.read_bytes()
        modified_utc = datetime.fromtimestamp(file.stat().st_mtime, UTC)
    except OSError as error:
        raise LogError(f"{file}: cannot be read ({error.strerror}); give a log file") from None
    reading = read_content(content, name=file.name, modified_utc=modified_utc, options=options)
    if not reading.entries and reading.question is None:
        why = f" ({reading.dropped[0].reason})" if reading.dropped else ""
        raise LogError(
            f"{file}: none of its {reading.n_lines} lines gave an entry{why}; give a log with a "
            "time and a message on each line"
        )
    return ReadFile(file, reading)


def _refuse_beyond_memory(file: Path) -> None:
    """LogError for a log that this machine cannot hold. Raises OSError if it is not there."""
    if not {"SC_PHYS_PAGES", "SC_PAGE_SIZE"} <= getattr(os, "sysconf_names", {}).keys():
        return
    has_bytes = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    needs_bytes = MEMORY_PER_BYTE * file.stat().st_size
    if needs_bytes > has_bytes:
        raise LogError(
            f"{file}: would take about {needs_bytes / 1e9:.1f} GB of memory, and this machine has "
            f"{has_bytes / 1e9:.1f}; cut it in pieces at the ends of lines"
        )


def write_entries(read: ReadFile, out: Path) -> tuple[Path, Path]:
    """Write the entries, and beside them what was assumed and dropped.

    Args:
        read: the log.
        out: ".jsonl" or ".csv"; replaced as a whole or not at all.
    Returns: the two files.
    Raises: LogError for another suffix, or if nothing can be written there.
    """
    if out.suffix not in SUFFIXES:
        raise LogError(f"{out}: entries are written as {' or '.join(SUFFIXES)}; name such a file")
    if out.resolve() == read.file.resolve():
        raise LogError(f"{out}: is the log itself; give another name")
    entries = map(entry_fields, read.reading.entries)
    content = _as_lines(entries) if out.suffix == ".jsonl" else _as_table(entries)
    beside = out.with_name(out.stem + "-confession.json")
    confession = json.dumps(_confession(read.file, read.reading), indent=2, ensure_ascii=False)
    write_whole(out, content)
    write_whole(beside, [confession + "\n"])
    return out, beside


def write_whole(path: Path, parts: Iterable[str]) -> None:
    """Write a file so that it is there as a whole or not at all. Raises LogError."""
    partial = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with partial.open("w", encoding="utf-8", newline="") as stream:
            stream.writelines(parts)
            stream.flush()
            os.fsync(stream.fileno())
        partial.replace(path)
    except OSError as error:
        partial.unlink(missing_ok=True)
        raise LogError(f"{path}: cannot be written ({error.strerror}); choose another") from None


def entry_fields(entry: Entry) -> dict[str, Any]:
    """One entry as it is written: no field without a value, the raw line last."""
    values = (
        entry.utc.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        entry.text,
        entry.snr_db,
        entry.snr_reference_hz,
        entry.audio_hz,
        entry.time_offset_s,
        entry.dial_hz,
    )
    known = {name: value for name, value in zip(FIELDS, values, strict=True) if value is not None}
    other = {"other": entry.other} if entry.other else {}
    return {**known, **other, "line": entry.line.number, "raw": entry.line.raw}


def _as_lines(entries: Iterable[dict[str, Any]]) -> Iterator[str]:
    return (json.dumps(entry, ensure_ascii=False) + "\n" for entry in entries)


def _as_table(entries: Iterable[dict[str, Any]]) -> Iterator[str]:
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    names = (*FIELDS, "line", "raw")
    for cells in ([names], ([entry.get(name, "") for name in names] for entry in entries)):
        for row in cells:
            table.writerow(row)
            yield stream.getvalue()
            stream.seek(0)
            stream.truncate()


def _confession(file: Path, reading: LogReading) -> dict[str, Any]:
    question = reading.question
    return {
        "made_by": f"solidcopy {__version__}",
        "file": str(file),
        "n_lines": reading.n_lines,
        "n_entries": len(reading.entries),
        "found": list(reading.found),
        "assumptions": [
            {"sentence": said.sentence, "option": said.option} for said in reading.assumptions
        ],
        "dropped": [_group(group) for group in reading.dropped],
        "question": question and {"sentence": question.sentence, "option": question.option},
    }


def _group(group: Dropped) -> dict[str, Any]:
    return {
        "reason": group.reason,
        "n_lines": len(group.lines),
        "lines": [line.number for line in group.lines],
        "first": [line.raw for line in group.lines[:N_SHOWN]],
    }


def _sentences(file: Path, reading: LogReading) -> list[str]:
    entries = reading.entries
    span = f", {entries[0].utc:%Y-%m-%d %H:%M:%S} to {entries[-1].utc:%Y-%m-%d %H:%M:%S} UTC"
    text = [
        f"{file}: {counted(reading.n_lines, 'line')}, "
        f"{counted(len(entries), 'entry', 'entries')}{span if entries else ''}",
        "found:",
        *(f"  {sentence}" for sentence in reading.found),
    ]
    if reading.assumptions:
        text.append("assumed:")
        for said in reading.assumptions:
            text.append(f"  {said.sentence}" + (f"  ({said.option})" if said.option else ""))
    if reading.dropped:
        text.append(f"dropped ({counted(reading.n_dropped, 'line')}):")
        for group in reading.dropped:
            text.append(f"  {len(group.lines)} {group.reason}")
            shown = [line for line in group.lines[:N_SHOWN] if line.raw.strip()]
            text += [f"    {line.number}: {line.raw.strip()[:100]}" for line in shown]
    if reading.question is not None:
        text.append(f"question: {reading.question.sentence}")
        text.append(f"  answer with {reading.question.option}")
    return text
