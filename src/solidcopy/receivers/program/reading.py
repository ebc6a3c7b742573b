"""From what a program wrote to decodes. A line that is none is kept, with the reason."""

import csv
import json
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from solidcopy import units
from solidcopy.receivers.program.layout import FIGURES
from solidcopy.receivers.program.settings import (
    AnyAnswer,
    ColumnsAnswer,
    Corrections,
    JsonLinesAnswer,
    LinesAnswer,
)
from solidcopy.receivers.receiver import Decode

MAX_LINE = 1000
"""Characters of a line; a longer one is no decode."""
MAX_DECODES = 1000
"""In one slot; no receiver that works reports more."""


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One line of what a program wrote, and what was made of it."""

    line: str
    decode: Decode | None
    reason: str = ""
    """Why it is no decode."""


class _NoDecodeError(Exception):
    """A line that holds no decode; the message says why."""


def safe_text(raw: bytes) -> str:
    """UTF-8 as far as it is; other bytes and control characters, but not line ends and tabs,
    become the replacement character, so that nothing can act on a terminal or a page."""
    text = raw.decode("utf-8", errors="replace").replace("\r\n", "\n")
    return "".join(
        letter if letter.isprintable() or letter in "\n\t" else "\N{REPLACEMENT CHARACTER}"
        for letter in text
    )


def read_lines(text: str, answer: AnyAnswer, corrections: Corrections) -> list[ReadLine]:
    """All lines of an answer that are not blank.

    Args:
        text: what the program wrote, from `safe_text`.
        answer: how decodes are told.
        corrections: of their figures.
    """
    lines = [line for line in text.split("\n") if line.strip()]
    names: list[str] | None = None
    read: list[ReadLine] = []
    for line in lines:
        if isinstance(answer, ColumnsAnswer) and answer.has_names and names is None:
            names = [field.strip() for field in _fields(line[:MAX_LINE], answer, None)]
            read.append(ReadLine(line[:MAX_LINE], None, "names of the columns"))
            continue
        try:
            if len(line) > MAX_LINE:
                raise _NoDecodeError(f"longer than {MAX_LINE} characters")
            read.append(ReadLine(line, _decode(_raw(line, answer, names), corrections)))
        except _NoDecodeError as reason:
            read.append(ReadLine(line[:MAX_LINE], None, str(reason)))
    return read


def _raw(line: str, answer: AnyAnswer, names: list[str] | None) -> Mapping[str, Any]:
    """Text and figures of a line as the program wrote them."""
    if isinstance(answer, LinesAnswer):
        match = re.search(answer.expression, line)
        if match is None:
            raise _NoDecodeError("does not fit")
        return match.groupdict()
    if isinstance(answer, JsonLinesAnswer):
        return _raw_json(line, answer)
    return _raw_columns(line, answer, names)


def _raw_json(line: str, answer: JsonLinesAnswer) -> Mapping[str, Any]:
    try:
        given = json.loads(line)
    except (ValueError, RecursionError):
        raise _NoDecodeError("is not JSON") from None
    if not isinstance(given, dict):
        raise _NoDecodeError("is no JSON object")
    if not isinstance(given.get(answer.text), str):
        raise _NoDecodeError(f'has no text "{answer.text}"')
    names = {name: getattr(answer, name) for name in FIGURES}
    return {
        "text": given[answer.text],
        **{name: given.get(theirs) for name, theirs in names.items() if theirs is not None},
    }


def _raw_columns(line: str, answer: ColumnsAnswer, names: list[str] | None) -> Mapping[str, Any]:
    fields = _fields(line, answer, names)
    raw = {}
    for name, column in _columns(answer, names):
        if column > len(fields):
            raise _NoDecodeError(f"has {len(fields)} columns, no {column}")
        raw[name] = fields[column - 1]
    return raw


def _columns(answer: ColumnsAnswer, names: list[str] | None) -> Iterator[tuple[str, int]]:
    """What is read, and from which column, from 1."""
    for name in ("text", *FIGURES):
        column = getattr(answer, name)
        if isinstance(column, str):
            if names is None or column not in names:
                raise _NoDecodeError(f'the first line names no column "{column}"')
            yield name, names.index(column) + 1
        elif column is not None:
            yield name, column


def _fields(line: str, answer: ColumnsAnswer, names: list[str] | None) -> list[str]:
    if answer.delimiter == "spaces":
        if answer.has_names and names is None:
            return line.split()
        at = dict(_columns(answer, names))["text"]
        return line.split(maxsplit=at - 1)
    try:
        return next(csv.reader([line], delimiter=answer.delimiter, skipinitialspace=True))
    except (csv.Error, StopIteration):
        raise _NoDecodeError("cannot be split into columns") from None


def _decode(raw: Mapping[str, Any], corrections: Corrections) -> Decode:
    text = " ".join((raw["text"] or "").split())
    if not text:
        raise _NoDecodeError("its text is empty")
    snr_db = _number(raw, "snr_db")
    audio_hz = _number(raw, "audio_hz")
    time_offset_s = _number(raw, "time_offset_s")
    if snr_db is not None:
        assert corrections.snr_reference_hz is not None  # the settings see to it
        snr_db = units.snr_in_bandwidth(
            snr_db + corrections.snr_db_offset,
            to_bandwidth_hz=units.REFERENCE_BANDWIDTH_HZ,
            reference_bandwidth_hz=corrections.snr_reference_hz,
        )
    if audio_hz is not None:
        audio_hz = corrections.audio_hz_scale * audio_hz + corrections.audio_hz_offset
    if time_offset_s is not None:
        scale, offset = corrections.time_offset_s_scale, corrections.time_offset_s_offset
        time_offset_s = scale * time_offset_s + offset
    return Decode(text, audio_hz, time_offset_s, snr_db)


def _number(raw: Mapping[str, Any], name: str) -> float | None:
    """A figure as written; None where it is left out."""
    given = raw.get(name)
    if given is None or (isinstance(given, str) and not given.strip()):
        return None
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise _NoDecodeError(f"its {name} is no number")
    try:
        value = float(given)
    except (ValueError, OverflowError):
        raise _NoDecodeError(f"its {name} is no number: {given!r}") from None
    if not math.isfinite(value):
        raise _NoDecodeError(f"its {name} is not finite: {given!r}")
    return value
