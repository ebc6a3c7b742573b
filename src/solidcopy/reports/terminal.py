"""The report in a terminal: 80 columns of plain text, and a live picture of progress."""

import textwrap
from collections.abc import Mapping, Sequence

from solidcopy.reports.answer import answer
from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import CurveFacts, Estimate, ThresholdFacts
from solidcopy.reports.wording import plain

WIDTH = 80
NAME_WIDTH = 18
BLOCKS = " ▁▂▃▄▅▆▇█"
"""Eighths of a share; a column not begun shows a middle dot instead."""
NOT_BEGUN = "·"

LiveCounts = Mapping[str, Mapping[float, tuple[int, int]]]
"""Curve name -> axis value -> (n_answered, n_decoded)."""


def report_text(facts: CampaignFacts) -> str:
    """Answer, thresholds and differences, as printed at the end of a run."""
    said = answer(facts)
    parts = [textwrap.fill(said.headline, WIDTH)]
    parts += [
        textwrap.fill(support, WIDTH, initial_indent="- ", subsequent_indent="  ")
        for support in said.supports
    ]
    if facts.extent.n_done:
        parts.append(_table(facts))
    return "\n\n".join([parts[0], "\n".join(parts[1:])]) + "\n"


def _table(facts: CampaignFacts) -> str:
    heads = ("condition", "50 %", "90 %", "difference at 50 %")
    if len(facts.receivers) > 1:
        heads = ("condition, receiver", *heads[1:])
    rows = [_row(facts, curve) for curve in facts.curves]
    unit = f"\n{facts.axis.label}; in brackets 95 % intervals." if rows else ""
    return "\n" + "\n".join(_line(cells) for cells in (heads, *rows)) + unit


def _row(facts: CampaignFacts, curve: CurveFacts) -> tuple[str, str, str, str]:
    name = curve.condition
    if len(facts.receivers) > 1:
        name = f"{curve.condition}, {curve.receiver}"
    half, most = (_short(curve.threshold(p)) for p in (0.5, 0.9))
    return name, half, most, _difference(facts, curve)


def _short(threshold: ThresholdFacts) -> str:
    return unsigned_estimate(threshold.at) if isinstance(threshold.at, Estimate) else "none"


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
    widths = (22, 22, WIDTH - NAME_WIDTH - 44)
    text = _cut(name, NAME_WIDTH - 1).ljust(NAME_WIDTH)
    text += "".join(figure.ljust(width) for figure, width in zip(figures, widths, strict=True))
    return text.rstrip()


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


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
        bars = "".join(f"{_bar(by_value.get(value, (0, 0)))} " for value in values)
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
