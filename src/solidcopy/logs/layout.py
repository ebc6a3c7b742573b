"""Which lines of a file have the same layout, and the cells of each line."""

import csv
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache

from solidcopy.logs import words
from solidcopy.logs.clock import (
    MONTHS,
    Days,
    parse_clock,
    parse_compact_clock,
    parse_days,
    parse_instant,
)
from solidcopy.logs.entry import Line
from solidcopy.logs.fields import bare_field, leading_kinds
from solidcopy.logs.numbers import N_REMEMBERED, eased


class Dialect(StrEnum):
    """How cells are told apart."""

    JSON = "JSON lines"
    PAIRS = "names and values parted by ="
    TAB = "columns parted by tabs"
    SEMICOLON = "columns parted by semicolons"
    BAR = "columns parted by vertical bars"
    COMMA = "columns parted by commas"
    GAPS = "columns parted by two blanks or more"
    BLANKS = "columns parted by blanks"


MAX_LINE = 4000
"""A longer line that is no JSON is no entry of a log."""

NAMED = (Dialect.JSON, Dialect.PAIRS)
"""Every line names its cells."""

MARKS = {Dialect.TAB: "\t", Dialect.SEMICOLON: ";", Dialect.BAR: "|", Dialect.COMMA: ","}
"""In the order in which they are tried: a comma may be a decimal mark."""

MIN_SHARE = 0.2
"""Fewer lines than this share are no layout of their own but odd lines of another."""

_PAIR = re.compile(r"([A-Za-z_][\w.]*)=(\"[^\"]*\"|[^=]*?)(?=\s+[A-Za-z_][\w.]*=|\s*$)")
_UNIT = re.compile(r"(?<=\d)[ \t]+(?=(?:dB|Hz|kHz|MHz|ms|s|%)(?:\s|$))", re.IGNORECASE)
_ZONE = re.compile(r"(?<=\d)[ \t]+(?=(?:[ap]m|utc|gmt|z|[+-]\d\d:\d\d)(?:\s|$))", re.IGNORECASE)
_NAMED_DATE = re.compile(r"(?:([A-Za-z]{3,9})\.?\s+(\d{1,2})|(\d{1,2})\.?\s+([A-Za-z]{3,9}))(?=\s)")
_YEAR = re.compile(r"(\S+),?\s+((?:19|20)\d\d)(?=\s)")


@dataclass(frozen=True, slots=True)
class Row:
    """A line and its cells."""

    line: Line
    cells: tuple[str, ...]
    piece: int = 0
    """How many headings stand above it: each may begin another day."""


@dataclass(slots=True)
class Block:
    """All lines of one layout under one heading."""

    dialect: Dialect
    headings: dict[Dialect, Row]
    """The heading above it, under each layout that makes one of it."""
    rows: list[Row] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines of a file, sorted."""

    blocks: tuple[Block, ...]
    remarks: tuple[Line, ...]
    """Without a time: titles, remarks."""
    dates: tuple[tuple[int, Days], ...]
    """Lines with nothing but a date, which holds for those that follow: number and date."""
    empty: tuple[Line, ...]
    repeated: tuple[Line, ...]
    """Headings that came before."""
    strays: tuple[Line, ...]
    """With a time, but of a layout that no other line has."""


def has_time(cells: Iterable[str], *, is_strict: bool) -> bool:
    """Whether one cell is a time; strictly: one that cannot be a plain number instead."""
    return any(_is_time(eased(cell), is_strict) for cell in cells)


@lru_cache(maxsize=N_REMEMBERED)
def _is_time(cell: str, is_strict: bool) -> bool:
    if parse_clock(cell) or parse_instant(cell):
        return True
    compact = parse_compact_clock(cell)
    return compact is not None and (not is_strict or re.match(r"\d{6}", cell) is not None)


def split_line(raw: str, dialect: Dialect) -> tuple[str, ...]:
    """The cells of one line; a JSON line has none here."""
    if dialect is Dialect.GAPS:
        return tuple(re.split(r"\s{2,}|\t", raw.strip()))
    if dialect is Dialect.BLANKS:
        return tuple(bare_field(token) for token in _joined(raw).split())
    try:
        return tuple(next(csv.reader([raw], delimiter=MARKS[dialect], skipinitialspace=True)))
    except (csv.Error, StopIteration):
        return tuple(raw.split(MARKS[dialect]))


def _joined(raw: str) -> str:
    """Units, zones and the parts of a date with a month's name stay with their number."""
    text = _ZONE.sub("", _UNIT.sub("", eased(raw)))
    named = _NAMED_DATE.match(text)
    month = (named[1] or named[4])[:3].lower() if named else ""
    if named and month in MONTHS:
        text = re.sub(r"\s+", "-", named[0]) + text[named.end() :]
        text = _YEAR.sub(r"\1-\2", text, count=1) if _YEAR.match(text) else text
    return text


def members_of(raw: str, dialect: Dialect) -> dict[str, str] | None:
    """Names and values of a line that holds both; None if it cannot be read."""
    if dialect is Dialect.JSON:
        return json_object(raw)
    return {name: value.strip().strip('"') for name, value in _PAIR.findall(raw)}


def json_object(raw: str) -> dict[str, str] | None:
    """The members of a JSON line as text, inner objects flattened; None if it is none."""
    try:
        value = json.loads(raw, parse_float=str, parse_int=str)
    except (json.JSONDecodeError, RecursionError):
        return None
    return dict(_members(value, "")) if isinstance(value, dict) else None


def _members(value: dict[str, object], before: str) -> Iterable[tuple[str, str]]:
    for name, member in value.items():
        if isinstance(member, dict):
            yield from _members(member, f"{before}{name}.")
        else:
            yield before + name, "" if member is None else str(member)


def dialect_of(raw: str) -> tuple[Dialect, int] | None:
    """Layout and number of columns of a line with a time; None for any other line."""
    if raw.lstrip().startswith("{"):
        return Dialect.JSON, 0
    if len(raw) > MAX_LINE:
        return None
    pairs = members_of(raw, Dialect.PAIRS) if "=" in raw else None
    if pairs is not None and len(pairs) > 1 and has_time(pairs.values(), is_strict=False):
        return Dialect.PAIRS, 0
    for is_strict in (True, False):
        for dialect, mark in MARKS.items():
            if mark not in raw:
                continue
            cells = split_line(raw, dialect)
            if len(cells) > 1 and has_time(cells, is_strict=is_strict):
                return dialect, len(cells)
        if has_time(split_line(raw, Dialect.BLANKS), is_strict=is_strict):
            return Dialect.BLANKS, 0
    return None


def heading_of(line: Line, names: frozenset[str] = frozenset()) -> dict[Dialect, Row]:
    """The line read as a heading, under each layout that makes one of it.

    Args:
        line: any without a time.
        names: lower case, of columns that the user has named.
    """
    bare = eased(line.raw).lstrip("#/*; ").strip()
    found: dict[Dialect, Row] = {}
    for dialect in (*MARKS, Dialect.GAPS, Dialect.BLANKS):
        cells = split_line(bare, dialect) if dialect is not Dialect.BLANKS else bare.split()
        n_known = sum(words.is_known(cell) or cell.strip().lower() in names for cell in cells)
        if len(cells) > 1 and n_known >= min(2, len(cells)) and n_known * 3 >= len(cells):
            found[dialect] = Row(line, tuple(cell.strip() for cell in cells))
    return found


class _Sorter:
    """Takes lines one by one; a heading begins a new set of blocks."""

    def __init__(self, names: frozenset[str]) -> None:
        self._names = names
        self.blocks: dict[tuple[int, Dialect, int], Block] = {}
        self.headings: list[dict[Dialect, Row]] = [{}]
        """All that differ, the empty one first."""
        self.heading = 0
        """Place of the one that holds now."""
        self.piece = 0
        self.repeated: list[Line] = []
        self.remarks: list[Line] = []
        self.dates: list[tuple[int, Days]] = []
        self.empty: list[Line] = []

    def take(self, line: Line) -> None:
        if not line.raw.strip():
            self.empty.append(line)
            return
        found = dialect_of(line.raw)
        if found is not None:
            self._take_row(line, *found)
            return
        headings = heading_of(line, self._names)
        days = parse_days(line.raw.strip(" \t#-=*_"))
        if headings:
            self._take_heading(line, headings)
        elif days is not None:
            self.dates.append((line.number, days))
        else:
            self.remarks.append(line)

    def _take_heading(self, line: Line, headings: dict[Dialect, Row]) -> None:
        self.piece += 1
        cells = [row.cells for row in headings.values()]
        for place, known in enumerate(self.headings):
            if [row.cells for row in known.values()] == cells:
                self.heading = place
                self.repeated.append(line)
                return
        self.headings.append(headings)
        self.heading = len(self.headings) - 1

    def _take_row(self, line: Line, dialect: Dialect, n_cells: int) -> None:
        key = self.heading, dialect, n_cells
        if key not in self.blocks:
            self.blocks[key] = Block(dialect, self.headings[self.heading])
        cells = () if dialect in NAMED else split_line(line.raw, dialect)
        self.blocks[key].rows.append(Row(line, cells, self.piece))


def _parted(block: Block) -> list[Block]:
    """Layouts with blanks between columns are told apart by the fields before the text."""
    if block.dialect is not Dialect.BLANKS:
        return [block]
    by_kinds: dict[str, list[Row]] = {}
    for row in block.rows:
        by_kinds.setdefault(leading_kinds(row.cells), []).append(row)
    least = max(2, MIN_SHARE * len(block.rows))
    if sum(len(rows) >= least for rows in by_kinds.values()) < 2:
        return [block]
    main = max(by_kinds, key=lambda kinds: len(by_kinds[kinds]))
    parted: dict[str, list[Row]] = {}
    for kinds, rows in by_kinds.items():
        parted.setdefault(kinds if len(rows) >= least else main, []).extend(rows)
    return [
        Block(block.dialect, block.headings, sorted(rows, key=lambda row: row.line.number))
        for rows in parted.values()
    ]


def sorted_lines(lines: Sequence[Line], names: frozenset[str] = frozenset()) -> Lines:
    """Every line in its place.

    Args:
        lines: all of a file.
        names: lower case, of columns that the user has named: they make a heading too.
    """
    sorter = _Sorter(names)
    for line in lines:
        sorter.take(line)
    blocks, strays = [], []
    for (_, _, n_cells), block in sorter.blocks.items():
        heading = block.headings.get(block.dialect)
        is_headed = heading is not None and n_cells in (0, len(heading.cells))
        if len(block.rows) > 1 or is_headed or len(sorter.blocks) == 1:
            blocks += _parted(block)
        else:
            strays += [row.line for row in block.rows]
    return Lines(
        tuple(blocks),
        tuple(sorter.remarks),
        tuple(sorter.dates),
        tuple(sorter.empty),
        tuple(sorter.repeated),
        tuple(strays),
    )
