"""How an answer could be read, guessed from the line in which a known message stands."""

import csv
import json
import re
import warnings
from collections.abc import Iterator, Sequence
from typing import Any

from solidcopy.receivers.program.layout import NUMBER, pattern_of_layout, suggested_layout
from solidcopy.receivers.program.settings import LinesAnswer

NEAR_HZ = 60.0
"""A number so close to the sent frequency is taken for it."""
DELIMITERS = "\t;|,"


def suggested_answer(lines: Sequence[str], *, text: str, audio_hz: float) -> dict[str, Any] | None:
    """Fields of `answer` that read a known message; None if no line holds it as it was sent.

    Args:
        lines: all that the program wrote, in order.
        text, audio_hz: what was sent. Other figures are not guessed, as a guess could be wrong.
    """
    for place, line in enumerate(lines):
        if text not in line:
            continue
        layout = suggested_layout(line, text=text, audio_hz=audio_hz)
        return (
            _json_answer(line, text, audio_hz)
            or _columns_answer(lines[0] if place else None, line, text, audio_hz)
            or {"kind": "lines", "layout": layout}
        )
    return None


def _json_answer(line: str, text: str, audio_hz: float) -> dict[str, Any] | None:
    try:
        members = json.loads(line)
    except (ValueError, RecursionError):
        return None
    if not isinstance(members, dict):
        return None
    held = [name for name, value in members.items() if value == text]
    if not held:
        return None
    near = [name for name, value in members.items() if _is_near(value, audio_hz)]
    return {"kind": "json-lines", "text": held[0], **({"audio_hz": near[0]} if near else {})}


def _columns_answer(
    first: str | None, line: str, text: str, audio_hz: float
) -> dict[str, Any] | None:
    """By name if a first line of equally many cells, none a number, stands above."""
    for delimiter in DELIMITERS:
        cells = _cells(line, delimiter)
        if len(cells) < 2 or text not in cells:
            continue
        above = [] if first is None else _cells(first, delimiter)
        is_headed = len(above) == len(cells) and not any(re.fullmatch(NUMBER, c) for c in above)
        names: list[Any] = above if is_headed else list(range(1, len(cells) + 1))
        near = [name for name, cell in zip(names, cells, strict=True) if _is_near(cell, audio_hz)]
        return {
            "kind": "columns",
            "delimiter": delimiter,
            "text": names[cells.index(text)],
            **({"audio_hz": near[0]} if near else {}),
        }
    return None


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        split = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []
    return [cell.strip() for cell in split]


def _is_near(value: Any, audio_hz: float) -> bool:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number and not (isinstance(value, str) and re.fullmatch(NUMBER, value)):
        return False
    return abs(float(value) - audio_hz) < NEAR_HZ


def fitting_part(answer: LinesAnswer, line: str) -> tuple[str, str]:
    """The longest beginning of a layout or pattern that fits a line, and the rest of it."""
    whole = answer.layout if answer.layout is not None else answer.pattern or ""
    for beginning, expression in _beginnings(answer):
        try:
            with warnings.catch_warnings(action="ignore"):
                is_fitting = re.search(expression, line) is not None
        except re.error:  # a part that is no expression by itself
            continue
        if is_fitting:
            return beginning, whole[len(beginning) :].strip()
    return "", whole


def _beginnings(answer: LinesAnswer) -> Iterator[tuple[str, str]]:
    """Beginnings of a layout, word by word, or of a pattern, letter by letter; longest first."""
    if answer.layout is None:
        assert answer.pattern is not None
        for end in range(len(answer.pattern), 0, -1):
            yield answer.pattern[:end], answer.pattern[:end]
        return
    for end in reversed([match.end() for match in re.finditer(r"\S+", answer.layout)]):
        beginning = answer.layout[:end]
        yield beginning, pattern_of_layout(beginning).removesuffix(r"\s*$")
