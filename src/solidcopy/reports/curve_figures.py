"""Figure of a campaign's measured curves, from facts."""

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from solidcopy.reports import ink
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import CurveFacts, Estimate, Line
from solidcopy.reports.palette import PAPER, SOFT_INK, SeriesStyle, series_style
from solidcopy.reports.picture import Picture
from solidcopy.reports.wording import listed

LEGEND_LETTERS = 108
"""Letters and keys that fit beside each other above the figure."""

FREE_LEGEND_ROWS, LEGEND_ROW_IN = 2, 0.21
"""More rows of the legend make the figure taller."""


def curves_picture(facts: CampaignFacts) -> Picture:
    """Share of messages decoded along the axis: points, Wilson bars, fitted lines and bands."""
    with ink.style():
        labels = [curve_name(facts, curve) for curve in facts.curves]
        n_rows = -(-len(labels) // _n_columns(labels))
        figure, axes = ink.one_axes(8.2, 4.7 + LEGEND_ROW_IN * max(0, n_rows - FREE_LEGEND_ROWS))
        handles = [
            draw_curve(axes, curve, *series_style(place))
            for place, curve in enumerate(facts.curves)
        ]
        axes.axhline(0.5, color=SOFT_INK, linewidth=0.8, dashes=(2, 3), zorder=1)
        first, last = facts.axis.values[0], facts.axis.values[-1]
        margin = 0.05 * (last - first) or 1.0
        axes.set_xlim(first - margin, last + margin)
        axes.set_ylim(-0.03, 1.03)
        axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
        axes.set_xlabel(facts.axis.label)
        axes.set_ylabel("messages decoded")
        figure.legend(
            handles,
            labels,
            loc="outside upper left",
            ncols=_n_columns(labels),
            handlelength=3.4,
        )
        svg = ink.svg_text(figure, "curves")
    return Picture(
        "curves",
        "Share of messages decoded",
        f"Share of messages decoded against {facts.axis.label}, for {listed(labels)}. Markers are "
        "measured shares with 95 % Wilson intervals, lines are fitted curves, shaded bands their "
        "95 % confidence bands. All numbers stand in the tables below.",
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


def _n_columns(labels: list[str]) -> int:
    """Columns of a legend that fits above the figure."""
    return max(1, min(3, len(labels), LEGEND_LETTERS // (max(map(len, labels)) + 8)))


def draw_curve(axes: Axes, curve: CurveFacts, style: SeriesStyle, is_hollow: bool) -> Line2D:
    """Line, band and points of one curve. Returns: what stands for it in the legend."""
    dashes = (0.0, style.dashes or (1.0, 0.0))
    if isinstance(curve.line, Line):
        line = curve.line
        axes.fill_between(
            line.band_values, line.p_low, line.p_high, color=style.colour, alpha=0.16, linewidth=0
        )
        axes.plot(line.axis_values, line.p, color=style.colour, linestyle=dashes)
    measured = [
        (point.axis_value, point.p_decoded)
        for point in curve.points
        if isinstance(point.p_decoded, Estimate)
    ]
    values = [value for value, _ in measured]
    shares = [share.value for _, share in measured]
    if not isinstance(curve.line, Line):
        axes.plot(values, shares, color=style.colour, linewidth=0.8, linestyle=(0, (1, 2)))
    face = PAPER if is_hollow else style.colour
    axes.errorbar(
        values,
        shares,
        yerr=[
            [max(0.0, share.value - share.interval.low) for _, share in measured],
            [max(0.0, share.interval.high - share.value) for _, share in measured],
        ],
        fmt=style.marker,
        color=style.colour,
        markerfacecolor=face,
        elinewidth=1.2,
        capsize=2.5,
    )
    return Line2D(
        [], [], color=style.colour, marker=style.marker, markerfacecolor=face, linestyle=dashes
    )
