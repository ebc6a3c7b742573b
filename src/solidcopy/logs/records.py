"""Records of a table whose quoted cells go over several lines."""

import re
from collections.abc import Sequence

from solidcopy.logs.entry import Line

MAX_LINES = 20
"""A quote that is not closed within so many lines is a mere mark."""
_OPENS = re.compile(r'(?:^|[\t;|,])\s*"(?:[^"]|"")*$')
"""The last cell of a line begins with a quote and does not end."""
_CLOSES = re.compile(r'^(?:[^"]|"")*"\s*(?:[\t;|,]|$)')
"""The first quote of a line ends its cell."""


def whole_records(lines: Sequence[Line]) -> Sequence[Line]:
    """Lines with those joined that one quoted cell holds, under the number of the first.

    Args:
        lines: all of a file; most have no such cell and are returned as they are.
    """
    joined: list[Line] = []
    place = 0
    while place < len(lines):
        end = _end_of_record(lines, place)
        raw = "\n".join(line.raw for line in lines[place:end])
        joined.append(lines[place] if end == place + 1 else Line(lines[place].number, raw))
        place = end
    return joined


def _end_of_record(lines: Sequence[Line], place: int) -> int:
    """Place of the line behind the record that begins at a place."""
    if lines[place].raw.count('"') % 2 == 0 or not _OPENS.search(lines[place].raw):
        return place + 1
    for end in range(place + 1, min(place + MAX_LINES, len(lines))):
        if '"' in lines[end].raw:
            closes = lines[end].raw.count('"') % 2 == 1 and _CLOSES.match(lines[end].raw)
            return end + 1 if closes else place + 1
    return place + 1
