"""Figure of a duel: both curves, and below them the trials that only one side got."""

from itertools import pairwise

from matplotlib.axes import Axes

from solidcopy.reports import ink
from solidcopy.reports.curve_figures import draw_curve
from solidcopy.reports.duel_facts import ConditionDuel, DuelFacts
from solidcopy.reports.duel_words import Names
from solidcopy.reports.palette import INK, SOFT_INK, series_style
from solidcopy.reports.picture import Picture


def duel_picture(facts: DuelFacts, place: int, names: Names) -> Picture:
    """One condition of a duel."""
    condition = facts.conditions[place]
    name = f"duel-{place + 1}"
    labels = [names.of("A"), names.of("B")]
    with ink.style():
        figure = ink.sheet(8.2, 6.0)
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(2.2, 1.0))
        handles = [
            draw_curve(upper, curve, *series_style(number))
            for number, curve in enumerate((condition.curve_a, condition.curve_b))
        ]
        _dress_curves(upper)
        _draw_unlike(lower, condition)
        lower.set_xlabel(facts.axis.label)
        first, last = facts.axis.values[0], facts.axis.values[-1]
        margin = 0.05 * (last - first) or 1.0
        lower.set_xlim(first - margin, last + margin)
        figure.legend(handles, labels, loc="outside upper left", ncols=2, handlelength=3.4)
        svg = ink.svg_text(figure, name)
    return Picture(
        name,
        f"A and B on the same trials: {condition.name}",
        f"Above, the share of messages decoded by A and by B against {facts.axis.label}, with 95 % "
        "Wilson intervals, fitted curves and their bands. Below, at each axis value, the number of "
        "trials that only A decoded (upwards) and only B decoded (downwards). All numbers stand in "
        "the table below.",
        "Above: measured shares with 95 % Wilson intervals, fitted curves with 95 % bands. Below: "
        "the trials that only one of the two decoded, which alone tell them apart. Bands may "
        "overlap where these decide already.",
        svg,
    )


def _dress_curves(axes: Axes) -> None:
    axes.axhline(0.5, color=SOFT_INK, linewidth=0.8, dashes=(2, 3), zorder=1)
    axes.set_ylim(-0.03, 1.03)
    axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
    axes.set_ylabel("messages decoded")


def _draw_unlike(axes: Axes, condition: ConditionDuel) -> None:
    """Bars upwards for A, downwards for B, each with its count."""
    values = [point.axis_value for point in condition.points]
    only_a = [point.counts.n_only_a for point in condition.points]
    only_b = [point.counts.n_only_b for point in condition.points]
    steps = [later - earlier for earlier, later in pairwise(values)]
    width = 0.6 * min(steps, default=1.0)
    highest = max(1, *only_a, *only_b)
    for number, (counts, sign) in enumerate(((only_a, 1), (only_b, -1))):
        colour = series_style(number)[0].colour
        axes.bar(values, [sign * n for n in counts], width, color=colour)
        for value, n in zip(values, counts, strict=True):
            axes.annotate(
                str(n),
                (value, sign * n),
                (0.0, 3.0 * sign),
                textcoords="offset points",
                ha="center",
                va="bottom" if sign > 0 else "top",
                fontsize=8.5,
                color=INK if n else SOFT_INK,
            )
    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.set_ylim(-1.35 * highest - 1.0, 1.35 * highest + 1.0)
    axes.set_yticks([])
    axes.grid(visible=False)
    axes.spines["left"].set_visible(False)
    axes.set_ylabel("only B | only A")
