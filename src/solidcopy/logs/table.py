"""A block of lines as a table: one cell for each column in every row."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from solidcopy.logs import words
from solidcopy.logs.entry import Line, Role
from solidcopy.logs.fields import is_field
from solidcopy.logs.layout import NAMED, Block, Dialect, Row, has_time, members_of, split_line

MOST = 0.9
"""A layout holds if so many lines follow it; the others are dropped, and named."""

N_SEEN = 1000
"""Rows that are enough to tell what a column holds."""

_CALL = re.compile(r"[A-Z0-9]{1,3}\d[A-Z]{1,4}|[A-R]{2}\d{2}|RRR|RR73|CQ|<.*>", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of equal length."""

    dialect: Dialect
    heading: Row | None
    """As long as the rows."""
    rows: tuple[Row, ...]
    broken: tuple[Line, ...]
    """Lines that do not fit."""

    @property
    def names(self) -> tuple[str, ...]:
        """Heading of each column, "column 3" where there is none."""
        if self.heading is not None:
            return self.heading.cells
        n_columns = len(self.rows[0].cells) if self.rows else 0
        return tuple(f"column {number}" for number in range(1, n_columns + 1))

    def column(self, place: int) -> list[str]:
        """Cells of a column that hold something, from rows spread evenly over a long table."""
        step = -(-len(self.rows) // N_SEEN)
        return [row.cells[place] for row in self.rows[::step] if row.cells[place].strip()]


def table_of(block: Block, n_asked: int | None = None, text_at: int | None = None) -> Table:
    """The block's rows as a table.

    Args:
        block: as sorted.
        n_asked, text_at: number of columns and place of the text, where the user has said so.
    """
    if block.dialect in NAMED:
        return _named_table(block)
    heading = block.headings.get(block.dialect)
    if block.dialect is not Dialect.BLANKS:
        n_cells = len(block.rows[0].cells)
        is_fitting = heading is not None and len(heading.cells) == n_cells
        return Table(block.dialect, heading if is_fitting else None, tuple(block.rows), ())
    if n_asked is not None and text_at is not None:
        return _blank_table(block.rows, text_at, n_asked - text_at - 1, None)
    return _gap_table(block) or _headed_table(block) or _counted_table(block)


def _named_table(block: Block) -> Table:
    objects = [(row, members_of(row.line.raw, block.dialect)) for row in block.rows]
    names = tuple(dict.fromkeys(name for _, members in objects for name in members or ()))
    rows = tuple(
        replace(row, cells=tuple(members.get(name, "") for name in names))
        for row, members in objects
        if members is not None
    )
    broken = tuple(row.line for row, members in objects if members is None)
    heading = Row(Line(0, ""), names)
    return Table(block.dialect, heading, rows, broken)


def _gap_table(block: Block) -> Table | None:
    """Columns set apart by wide gaps, if nearly all lines have as many."""
    rows = [replace(row, cells=split_line(row.line.raw, Dialect.GAPS)) for row in block.rows]
    counts = [len(row.cells) for row in rows]
    n_cells = max(counts, key=counts.count)
    fitting = tuple(row for row in rows if len(row.cells) == n_cells)
    if n_cells < 3 or len(fitting) < MOST * len(rows):
        return None
    if not all(has_time(row.cells, is_strict=False) for row in fitting):
        return None
    if any(_is_mixture([row.cells[place] for row in fitting]) for place in range(n_cells)):
        return None
    heading = block.headings.get(Dialect.GAPS)
    if heading is not None and len(heading.cells) != n_cells:
        heading = None
    broken = tuple(row.line for row in rows if len(row.cells) != n_cells)
    return Table(Dialect.GAPS, heading, fitting, broken)


def _is_mixture(cells: Sequence[str]) -> bool:
    """Whether cells hold several fields that only one blank parts: all but a text do then."""
    parts = [split_line(cell, Dialect.BLANKS) for cell in cells]
    several = [tokens for tokens in parts if len(tokens) > 1 and not is_field(" ".join(tokens))]
    return bool(several) and all(is_field(tokens[0]) or is_field(tokens[-1]) for tokens in several)


def _headed_table(block: Block) -> Table | None:
    """Columns counted by the heading: what stands before and behind the text."""
    heading = block.headings.get(Dialect.BLANKS)
    roles = [words.role_of(cell) for cell in heading.cells] if heading else []
    if heading is None or roles.count(Role.TEXT) != 1:
        return None
    text_at = roles.index(Role.TEXT)
    table = _blank_table(block.rows, text_at, len(roles) - text_at - 1, heading)
    return table if len(table.rows) >= MOST * len(block.rows) else None


def _counted_table(block: Block) -> Table:
    """Columns counted from both ends: fields stand there, the text between them."""
    tokens = [row.cells for row in block.rows]
    n_before = _run_length(tokens, n_kept=1)
    n_behind = _run_length([line[n_before:][::-1] for line in tokens], n_kept=1)
    return _blank_table(block.rows, n_before, n_behind, None)


def _run_length(lines: Sequence[Sequence[str]], *, n_kept: int) -> int:
    """Number of leading tokens that are fields in nearly every line."""
    n_run = 0
    while True:
        tokens = [line[n_run] for line in lines if len(line) > n_run + n_kept]
        if len(tokens) < MOST * len(lines) or not tokens:
            return n_run
        if sum(map(is_field, tokens)) < MOST * len(lines) and not _is_label(tokens):
            return n_run
        n_run += 1


def _is_label(tokens: Sequence[str]) -> bool:
    """The same word on every line, and no call, grid or "CQ": the name of a mode, for instance."""
    first = tokens[0]
    return len(tokens) > 2 and set(tokens) == {first} and not _CALL.fullmatch(first)


def _blank_table(rows: Sequence[Row], n_before: int, n_behind: int, heading: Row | None) -> Table:
    fitting, broken = [], []
    known_labels = _labels(rows)
    for row in rows:
        tokens = row.cells
        middle = tokens[n_before : len(tokens) - n_behind]
        ends = (*tokens[:n_before], *tokens[len(tokens) - n_behind :])
        labels = {token for token in ends if not is_field(token)}
        if not middle or (labels and not labels <= known_labels):
            broken.append(row.line)
            continue
        before, behind = tokens[:n_before], tokens[len(tokens) - n_behind :]
        fitting.append(replace(row, cells=(*before, " ".join(middle), *behind)))
    return Table(Dialect.BLANKS, heading, tuple(fitting), tuple(broken))


def _labels(rows: Sequence[Row]) -> set[str]:
    """Words that stand on nearly every line."""
    counts: dict[str, int] = {}
    for row in rows:
        for token in set(row.cells):
            counts[token] = counts.get(token, 0) + 1
    return {token for token, n in counts.items() if n >= MOST * len(rows)}
