"""Sentences and sheets as plain text; a sheet as Markdown."""

from collections.abc import Sequence

from solidcopy.reports.sheet import Sheet
from solidcopy.reports.terminal import wrapped


def said_text(sentences: Sequence[str]) -> str:
    """The answer, and what supports it as a list; at most 80 columns wide."""
    first, *rest = sentences
    return "\n".join([wrapped(first), *(wrapped(one, "- ", "  ") for one in rest)])


def sheet_text(sheet: Sheet) -> str:
    """Columns under their heads, two blanks between them, and the note."""
    rows = [sheet.columns, *sheet.rows]
    widths = [max(len(row[place]) for row in rows) for place in range(len(sheet.columns))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    note = [wrapped(sheet.note)] if sheet.note else []
    return "\n".join([sheet.caption, *lines, *note])


def sheet_markdown(sheet: Sheet) -> str:
    """Caption, table and note."""
    rows = [sheet.columns, ("---",) * len(sheet.columns), *sheet.rows]
    lines = ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    note = ["", sheet.note] if sheet.note else []
    return "\n".join([f"**{sheet.caption}**", "", *lines, *note]) + "\n"
