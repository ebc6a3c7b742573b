"""The report in a terminal: 80 columns of plain text, and a live picture of progress."""

import textwrap
from collections.abc import Mapping, Sequence

from solidcopy.campaigns.progress import Progress
from solidcopy.reports.answer import answer
from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import CurveFacts, Estimate
from solidcopy.reports.wording import glued, number, places_of, plain

WIDTH = 80
FIGURE_WIDTHS = (27, 8, 22)
"""Columns of a table: an estimate, a value, a difference; two decimals fit."""
NAME_WIDTH = WIDTH - sum(FIGURE_WIDTHS)
BLOCKS = " ▁▂▃▄▅▆▇█"
"""Eighths of a share; a column not begun shows a middle dot instead."""
NOT_BEGUN = "·"

NOTHING_YET = (0, 0)

LiveCounts = Mapping[str, Mapping[float, tuple[int, int]]]
"""Curve name -> axis value -> (n_answered, n_decoded)."""


def summary_text(facts: CampaignFacts) -> str:
    """Answer, thresholds and differences, as printed at the end of a run."""
    said = answer(facts)
    parts = [_filled(said.headline, "", "")]
    parts += [_filled(support, "- ", "  ") for support in said.supports]
    if facts.extent.n_done:
        parts.append(_table(facts))
    return "\n\n".join([parts[0], "\n".join(parts[1:])]) + "\n"


def _filled(text: str, first: str, rest: str) -> str:
    """Wrapped so that no number loses its unit; the spaces are ordinary ones again at the end."""
    wrapped = textwrap.fill(glued(text), WIDTH, initial_indent=first, subsequent_indent=rest)
    return wrapped.replace("\u00a0", " ")


def _table(facts: CampaignFacts) -> str:
    heads = ("condition", "50 %", "90 %", "difference at 50 %")
    if len(facts.receivers) > 1:
        heads = ("condition, receiver", *heads[1:])
    rows = [_row(facts, curve) for curve in facts.curves]
    lines = [_line(cells) for cells in (heads, *rows)]
    lines.append(f"{facts.axis.label}; in brackets 95 % intervals.")
    if len(facts.receivers) > 1:
        lines.append("Differences: from the first condition; of it, from the first receiver.")
    return "\n".join(["", *lines])


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
    counts = {
        f"{curve.condition_name}, {curve.receiver_name}"
        if has_receivers
        else curve.condition_name: {
            point.axis_value: (point.n_scored, point.n_decoded) for point in curve.points
        }
        for curve in progress.curves
    }
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
