"""Figures of a campaign's measured curves and penalties, from facts."""

from dataclasses import dataclass

from matplotlib.axes import Axes

from solidcopy.reports import ink
from solidcopy.reports.estimates import signed_estimate
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import CurveFacts, Estimate, Line, PenaltyFacts
from solidcopy.reports.palette import INK, PAPER, SOFT_INK, SeriesStyle, series_style
from solidcopy.reports.wording import listed


@dataclass(frozen=True, slots=True)
class Picture:
    """One figure as SVG text with its words."""

    name: str
    """File name without its ending; also the start of every id inside."""
    title: str
    description: str
    """What a reader who cannot see the figure needs to know."""
    caption: str
    """What a reader who sees it needs besides."""
    svg: str

    def labelled(self) -> str:
        """The SVG with title and description inside."""
        return ink.with_title(
            self.svg, name=self.name, title=self.title, description=self.description
        )


def curves_picture(facts: CampaignFacts) -> Picture:
    """Share of messages decoded along the axis: points, Wilson bars, fitted lines and bands."""
    with ink.style():
        figure, axes = ink.one_axes(8.2, 4.7)
        for place, curve in enumerate(facts.curves):
            style, is_hollow = series_style(place)
            _draw_curve(axes, curve, style, is_hollow, curve_name(facts, curve))
        axes.axhline(0.5, color=SOFT_INK, linewidth=0.8, dashes=(2, 3), zorder=1)
        first, last = facts.axis.values[0], facts.axis.values[-1]
        margin = 0.05 * (last - first) or 1.0
        axes.set_xlim(first - margin, last + margin)
        axes.set_ylim(-0.03, 1.03)
        axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
        axes.set_xlabel(facts.axis.label)
        axes.set_ylabel("messages decoded")
        figure.legend(loc="outside upper left", ncols=min(3, len(facts.curves)), handlelength=3.4)
        svg = ink.svg_text(figure, "curves")
    names = listed([curve_name(facts, curve) for curve in facts.curves])
    return Picture(
        "curves",
        "Share of messages decoded",
        f"Share of messages decoded against {facts.axis.label}, for {names}. Markers are measured "
        "shares with 95 % Wilson intervals, lines are fitted curves, shaded bands their 95 % "
        "confidence bands. All numbers stand in the tables below.",
        "Markers: measured shares with 95 % Wilson intervals. Lines: fitted curves with their 95 % "
        "bands; where no curve is fitted, thin dotted lines join the points. All numbers stand in "
        "the tables below.",
        svg,
    )


def curve_name(facts: CampaignFacts, curve: CurveFacts) -> str:
    """Condition, receiver or both, as far as there is a choice."""
    if len(facts.receivers) == 1:
        return curve.condition
    if len(facts.conditions) == 1:
        return curve.receiver
    return f"{curve.condition}, {curve.receiver}"


def _draw_curve(
    axes: Axes, curve: CurveFacts, style: SeriesStyle, is_hollow: bool, name: str
) -> None:
    if isinstance(curve.line, Line):
        line = curve.line
        axes.fill_between(
            line.band_values, line.p_low, line.p_high, color=style.colour, alpha=0.16, linewidth=0
        )
        axes.plot(
            line.axis_values, line.p, color=style.colour, linestyle=(0, style.dashes or (1, 0))
        )
    measured = [
        (point.axis_value, point.p_decoded)
        for point in curve.points
        if isinstance(point.p_decoded, Estimate)
    ]
    values = [value for value, _ in measured]
    shares = [share.value for _, share in measured]
    bars = [
        [max(0.0, share.value - share.interval.low) for _, share in measured],
        [max(0.0, share.interval.high - share.value) for _, share in measured],
    ]
    if not isinstance(curve.line, Line):
        axes.plot(values, shares, color=style.colour, linewidth=0.8, linestyle=(0, (1, 2)))
    # A second, empty line carries the legend: line style and marker together.
    axes.errorbar(
        values,
        shares,
        yerr=bars,
        fmt=style.marker,
        color=style.colour,
        markerfacecolor=PAPER if is_hollow else style.colour,
        elinewidth=1.2,
        capsize=2.5,
    )
    axes.plot(
        [],
        [],
        color=style.colour,
        marker=style.marker,
        markerfacecolor=PAPER if is_hollow else style.colour,
        linestyle=(0, style.dashes or (1, 0)),
        label=name,
    )


def penalties_picture(facts: CampaignFacts) -> Picture | None:
    """Every comparison as a point with its interval; None if no comparison has a figure."""
    shown = [penalty for penalty in facts.penalties if isinstance(penalty.shift, Estimate)]
    if not shown:
        return None
    with ink.style():
        figure, axes = ink.one_axes(8.2, 1.15 + 0.42 * len(shown))
        for row, penalty in enumerate(reversed(shown)):
            assert isinstance(penalty.shift, Estimate)
            shift, interval = penalty.shift, penalty.shift.interval
            bars = [[shift.value - interval.low], [interval.high - shift.value]]
            is_half = penalty.p == 0.5
            axes.errorbar(
                [shift.value],
                [row],
                xerr=bars,
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
        axes.axvline(0.0, color=INK, linewidth=1.0)
        axes.set_yticks(range(len(shown)), [penalty_name(facts, p) for p in reversed(shown)])
        axes.set_ylim(-0.6, len(shown) - 0.4)
        axes.margins(x=0.35)
        axes.grid(False, axis="y")
        unit = f", {facts.axis.step_unit}" if facts.axis.step_unit else ""
        axes.set_xlabel(f"difference from the first{unit}")
        svg = ink.svg_text(figure, "penalties")
    said = "; ".join(
        f"{penalty_name(facts, penalty)}: {signed_estimate(penalty.shift)}"
        for penalty in shown
        if isinstance(penalty.shift, Estimate)
    )
    return Picture(
        "penalties",
        "Differences from the first, with 95 % intervals",
        f"{said}. Unit: {facts.axis.step_unit or facts.axis.quantity}. An interval that touches "
        "the line at 0 shows no difference.",
        "Full markers: at 50 %; open ones: at 90 %. Bars: 95 % intervals, judged in pairs. A bar "
        "that crosses the line at 0 shows no difference.",
        svg,
    )


def penalty_name(facts: CampaignFacts, penalty: PenaltyFacts) -> str:
    """What is compared, at which share, as far as there is a choice."""
    has_choice = (
        len(facts.receivers) > 1 if penalty.compares == "condition" else len(facts.conditions) > 1
    )
    within = f" ({penalty.within})" if has_choice else ""
    return f"{penalty.name}{within}, {100 * penalty.p:g} %"
