"""The report in a terminal: 80 columns of plain text, and a live picture of progress."""

import textwrap
from collections.abc import Mapping, Sequence

from solidcopy.campaigns.progress import Progress
from solidcopy.reports.answer import answer
from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.facts import CampaignFacts, MapFacts
from solidcopy.reports.map_facts import folded, map_rows
from solidcopy.reports.map_tables import bounded
from solidcopy.reports.measured import CurveFacts, Estimate
from solidcopy.reports.wording import glued, number, places_of, plain

WIDTH = 80
FIGURE_WIDTHS = (27, 8, 22)
"""Columns of a table: an estimate, a value, a difference; two decimals fit."""
NAME_WIDTH = WIDTH - sum(FIGURE_WIDTHS)
MAP_VALUE_WIDTH = 12
MAP_WIDTH = 27
BLOCKS = " ▁▂▃▄▅▆▇█"
"""Eighths of a share; a column not begun shows a middle dot instead."""
NOT_BEGUN = "·"

NOTHING_YET = (0, 0)

LiveCounts = Mapping[str, Mapping[float, tuple[int, int]]]
"""Curve name -> axis value -> (n_answered, n_decoded)."""


def summary_text(facts: CampaignFacts) -> str:
    """Answer, thresholds and differences, as printed at the end of a run."""
    said = answer(facts)
    parts = [wrapped(said.headline)]
    parts += [wrapped(support, "- ", "  ") for support in said.supports]
    if facts.extent.n_done:
        parts.append(_table(facts))
    return "\n\n".join([parts[0], "\n".join(parts[1:])]) + "\n"


def wrapped(text: str, first: str = "", rest: str = "") -> str:
    """At most 80 columns wide, so that no number loses its unit; with plain spaces in the end."""
    filled = textwrap.fill(glued(text), WIDTH, initial_indent=first, subsequent_indent=rest)
    return filled.replace("\u00a0", " ")


def _table(facts: CampaignFacts) -> str:
    lines = [""]
    for a_map in facts.maps:
        lines += [*_map_lines(facts, a_map), ""]
    single_ones = folded(facts)
    if single_ones.curves:
        heads = ("condition", "50 %", "90 %", "difference at 50 %")
        if len(facts.receivers) > 1:
            heads = ("condition, receiver", *heads[1:])
        rows = [_row(single_ones, curve) for curve in single_ones.curves]
        lines += [_line(cells) for cells in (heads, *rows)]
    lines.append(f"{facts.axis.label}; in brackets 95 % intervals.")
    if single_ones.curves and len(facts.receivers) > 1:
        lines.append("Differences: from the first condition; of it, from the first receiver.")
    return "\n".join(lines)


def _map_lines(facts: CampaignFacts, a_map: MapFacts) -> list[str]:
    """One line for each value of a map: the 50 % points, as many receivers as fit."""
    receivers = facts.receivers[: (WIDTH - MAP_VALUE_WIDTH) // MAP_WIDTH]
    columns = [map_rows(facts, a_map, receiver.name) for receiver in receivers]
    heads = [f"50 %, {receiver.name}" for receiver in receivers]
    if len(receivers) == 1:
        heads = ["50 %", "90 %"]
    lines = [f"{a_map.condition}: {a_map.label}", _map_line("", heads)]
    for rows in zip(*columns, strict=True):
        cells = [bounded(row.half) for row in rows]
        if len(rows) == 1:
            cells.append(bounded(rows[0].most))
        lines.append(_map_line(plain(rows[0].value), cells))
    if len(receivers) < len(facts.receivers):
        lines.append("Further receivers stand in the report.")
    return lines


def _map_line(value: str, cells: Sequence[str]) -> str:
    text = value.rjust(MAP_VALUE_WIDTH - 2) + "  "
    return (text + "".join(_cut(cell, MAP_WIDTH - 1).ljust(MAP_WIDTH) for cell in cells)).rstrip()


def _row(facts: CampaignFacts, curve: CurveFacts) -> tuple[str, str, str, str]:
    name = curve.condition
    if len(facts.receivers) > 1:
        name = f"{curve.condition}, {curve.receiver}"
    half, most = curve.threshold(0.5).at, curve.threshold(0.9).at
    return (
        name,
        unsigned_estimate(half) if isinstance(half, Estimate) else "none",
        number(most.value, places_of(most.interval)) if isinstance(most, Estimate) else "none",
        _difference(facts, curve),
    )


def _difference(facts: CampaignFacts, curve: CurveFacts) -> str:
    """Against the first condition, or for the first condition against the first receiver."""
    for penalty in facts.penalties:
        named = (
            (penalty.name, penalty.within)
            if penalty.compares == "condition"
            else (penalty.within, penalty.name)
        )
        is_own = named == (curve.condition, curve.receiver) and penalty.p == 0.5
        if is_own:
            return signed_estimate(penalty.shift) if isinstance(penalty.shift, Estimate) else "none"
    return "first"


def _line(cells: Sequence[str]) -> str:
    name, *figures = cells
    text = _cut(name, NAME_WIDTH - 1).ljust(NAME_WIDTH)
    text += "".join(
        figure.ljust(width) for figure, width in zip(figures, FIGURE_WIDTHS, strict=True)
    )
    return text.rstrip()


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def progress_text(progress: Progress) -> str:
    """A running campaign: its line, and the curves as they grow."""
    has_receivers = len({curve.receiver for curve in progress.curves}) > 1
    counts: dict[str, dict[float, tuple[int, int]]] = {}
    for curve in progress.curves:
        # All curves of a map are one row: the share over all its values.
        condition = curve.map_of or curve.condition_name
        name = f"{condition}, {curve.receiver_name}" if has_receivers else condition
        row = counts.setdefault(name, {})
        for point in curve.points:
            n_answered, n_decoded = row.get(point.axis_value, NOTHING_YET)
            row[point.axis_value] = (n_answered + point.n_scored, n_decoded + point.n_decoded)
    return f"{progress.line()}\n{live_curves(counts)}"


def live_curves(counts: LiveCounts) -> str:
    """One row of bars for each curve: the share decoded so far at each axis value.

    Args:
        counts: (n_answered, n_decoded) so far; axis values may differ in number, not in order.
    Returns: lines of at most 80 columns; every n-th value is left out where they do not fit.
    """
    values = sorted({value for by_value in counts.values() for value in by_value})
    if not values:
        return ""
    n_columns = (WIDTH - NAME_WIDTH) // 2
    values = values[:: -(-len(values) // n_columns)]
    lines = []
    for name, by_value in counts.items():
        bars = "".join(f"{_bar(by_value.get(value, NOTHING_YET))} " for value in values)
        lines.append(f"{_cut(name, NAME_WIDTH - 1):<{NAME_WIDTH}}{bars}".rstrip())
    ends = plain(values[0]).ljust(max(0, 2 * len(values) - 1 - len(plain(values[-1]))))
    lines.append(" " * NAME_WIDTH + (ends + plain(values[-1]) if len(values) > 1 else ends.strip()))
    return "\n".join(lines)


def _bar(counts: tuple[int, int]) -> str:
    """An eighth-block for a share; 0 and 1 are kept for shares that are exactly that."""
    n_answered, n_decoded = counts
    if n_answered == 0:
        return NOT_BEGUN
    if n_decoded in (0, n_answered):
        return BLOCKS[0 if n_decoded == 0 else -1].replace(" ", "_")
    return BLOCKS[min(7, max(1, round(8 * n_decoded / n_answered)))]
