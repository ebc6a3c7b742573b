"""Figure of all comparisons with the first, from facts."""

import textwrap

from matplotlib.axes import Axes

from solidcopy.reports import ink
from solidcopy.reports.estimates import signed_estimate
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate, PenaltyFacts
from solidcopy.reports.palette import INK, PAPER, SOFT_INK
from solidcopy.reports.picture import Picture
from solidcopy.reports.wording import glued

ROOM_FOR_NUMBERS = 0.45
"""Beside the bars, in the stretch that they cover."""

NAME_LETTERS = 38
"""Longer names are wrapped."""


def penalties_picture(facts: CampaignFacts) -> Picture | None:
    """Every comparison as a point with its interval; None if no comparison has a figure."""
    shown = [
        (penalty_name(facts, penalty), penalty.p, penalty.shift)
        for penalty in facts.penalties
        if isinstance(penalty.shift, Estimate)
    ]
    if not shown:
        return None
    with ink.style():
        figure, axes = ink.one_axes(8.2, 1.15 + 0.42 * len(shown))
        for row, (_, p, shift) in enumerate(reversed(shown)):
            _draw_row(axes, row, shift, is_half=p == 0.5)
        axes.axvline(0.0, color=INK, linewidth=1.0)
        names = [textwrap.fill(glued(name), NAME_LETTERS) for name, _, _ in reversed(shown)]
        axes.set_yticks(range(len(shown)), names)
        axes.set_ylim(-0.6, len(shown) - 0.4)
        axes.set_xlim(*_ends([shift for _, _, shift in shown]))
        axes.grid(False, axis="y")
        unit = f", {facts.axis.step_unit}" if facts.axis.step_unit else ""
        axes.set_xlabel(f"difference from the first{unit}")
        svg = ink.svg_text(figure, "penalties")
    said = "; ".join(f"{name}: {signed_estimate(shift)}" for name, _, shift in shown)
    return Picture(
        "penalties",
        "Differences from the first, with 95 % intervals",
        f"{said}. Unit: {facts.axis.step_unit or facts.axis.quantity}. An interval that touches "
        "the line at 0 shows no difference.",
        "Full markers: at 50 %; open ones: at 90 %. Bars: 95 % intervals, judged in pairs. A bar "
        "that crosses the line at 0 shows no difference.",
        svg,
    )


def _ends(shifts: list[Estimate]) -> tuple[float, float]:
    """Ends of the axis: 0 and all bars, and on the right what stands written beside them."""
    low = min(0.0, *(shift.interval.low for shift in shifts))
    high = max(0.0, *(shift.interval.high for shift in shifts))
    return low - 0.08 * (high - low), high + ROOM_FOR_NUMBERS * (high - low)


def _draw_row(axes: Axes, row: int, shift: Estimate, *, is_half: bool) -> None:
    interval = shift.interval
    axes.errorbar(
        [shift.value],
        [row],
        xerr=[[shift.value - interval.low], [interval.high - shift.value]],
        fmt="o" if is_half else "s",
        color=INK if is_half else SOFT_INK,
        markerfacecolor=INK if is_half else PAPER,
        elinewidth=1.8,
        capsize=4,
    )
    axes.annotate(
        signed_estimate(shift),
        (interval.high, row),
        (8, 0),
        textcoords="offset points",
        va="center",
        fontsize=9.0,
    )


def penalty_name(facts: CampaignFacts, penalty: PenaltyFacts) -> str:
    """What is compared, at which share, as far as there is a choice."""
    has_choice = (
        len(facts.receivers) > 1 if penalty.compares == "condition" else len(facts.conditions) > 1
    )
    within = f" ({penalty.within})" if has_choice else ""
    return f"{penalty.name}{within}, {100 * penalty.p:g} %"
