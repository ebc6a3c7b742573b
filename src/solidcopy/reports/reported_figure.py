"""Figure of one receiver's reports against the truth, from facts."""

from itertools import pairwise

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from solidcopy.reports import ink
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate
from solidcopy.reports.palette import INK, PAPER, SeriesStyle, series_style
from solidcopy.reports.picture import Picture
from solidcopy.reports.reported_facts import Against, ReportedFacts, ReportedLine
from solidcopy.reports.reported_words import reported_sentences
from solidcopy.reports.wording import percent, quoted
from solidcopy.statistics.reported import FULL_SHARE

PANEL_IN = 3.3
SPREAD_IN_STEP, SPREAD_IN_ALL = 0.3, 0.03
"""Parts of an axis step, and of the axis, over which markers of several conditions are spread."""


def reported_picture(facts: CampaignFacts, receiver: str, place: int) -> Picture:
    """Mean of report less truth along the axis, a panel for each truth.

    Args:
        place: 0-based, of the receiver among those that state levels.
    """
    curves = [curve for curve in facts.reported.curves if curve.receiver == receiver]
    kinds = list(dict.fromkeys(curve.against for curve in curves))
    names = [condition.name for condition in facts.conditions]
    shown = [name for name in names if any(curve.condition == name for curve in curves)]
    with ink.style():
        figure = ink.sheet(8.2, 0.9 + PANEL_IN * len(kinds))
        panels = figure.subplots(len(kinds), 1, sharex=True, squeeze=False)[:, 0]
        for axes, kind in zip(panels, kinds, strict=True):
            for curve in curves:
                if curve.against == kind:
                    style = series_style(names.index(curve.condition))[0]
                    shift = _shift(facts, shown.index(curve.condition), len(shown))
                    _draw(axes, curve, style, shift=shift)
            _finish(axes, kind)
        panels[-1].set_xlabel(facts.axis.label)
        figure.legend(
            handles=[_key(series_style(names.index(name))[0], name) for name in shown],
            loc="outside upper left",
            ncols=max(1, min(3, 100 // (max(map(len, shown)) + 8))),
        )
        svg = ink.svg_text(figure, f"reported-{place + 1}")
    said = " ".join(
        sentence for curve, sentence in reported_sentences(facts) if curve.receiver == receiver
    )
    return Picture(
        f"reported-{place + 1}",
        f"Reported less true SNR: receiver {quoted(receiver)}",
        f"{said} All numbers stand in the table below.",
        "Markers: mean of report less truth, trial by trial, with 95 % intervals; bars without "
        f"caps: the scatter of single reports (one sd). Open: fewer than {percent(FULL_SHARE)} of "
        "the trials have a report, so these means are those of the lucky. Lines: fitted to the "
        "full markers only; conditions stand a little beside each other.",
        svg,
    )


def _finish(axes: Axes, kind: Against) -> None:
    axes.axhline(0.0, color=INK, linewidth=1.0)
    low, high = axes.get_ylim()
    axes.set_ylim(min(low, -1.0), max(high, 1.0))
    axes.set_ylabel(f"report −\n{kind}, dB")


def _key(style: SeriesStyle, name: str) -> Line2D:
    return Line2D(
        [],
        [],
        color=style.colour,
        marker=style.marker,
        linestyle=(0.0, style.dashes or (1.0, 0.0)),
        label=name,
    )


def _shift(facts: CampaignFacts, place: int, n: int) -> float:
    """By how much markers of one axis value stand beside each other, in axis units."""
    values = facts.axis.values
    step = min((after - before for before, after in pairwise(values)), default=1.0)
    spread = min(SPREAD_IN_STEP * step, SPREAD_IN_ALL * (values[-1] - values[0]))
    return spread * (place - (n - 1) / 2.0) / max(1, n - 1)


def _draw(axes: Axes, curve: ReportedFacts, style: SeriesStyle, *, shift: float) -> None:
    for point in curve.points:
        if not isinstance(point.error, Estimate):
            continue
        error = point.error
        if point.sd_db is not None:
            ends = [error.value - point.sd_db, error.value + point.sd_db]
            axes.plot(
                [point.axis_value + shift] * 2, ends, color=style.colour, linewidth=0.8, alpha=0.6
            )
        axes.errorbar(
            [point.axis_value + shift],
            [error.value],
            yerr=[[error.value - error.interval.low], [error.interval.high - error.value]],
            fmt=style.marker,
            color=style.colour,
            markerfacecolor=style.colour if point.is_full else PAPER,
            elinewidth=1.6,
            capsize=3,
        )
    if isinstance(curve.line, ReportedLine):
        _draw_line(axes, curve, curve.line, style)


def _draw_line(axes: Axes, curve: ReportedFacts, line: ReportedLine, style: SeriesStyle) -> None:
    """Where it was fitted; drawn over the axis values of its points."""
    used = [
        point for point in curve.points if line.first_value <= point.axis_value <= line.last_value
    ]
    errors = [
        line.offset.value + (line.slope.value - 1.0) * (point.truth_db - line.at_db)
        for point in used
    ]
    dashes = (0.0, style.dashes or (1.0, 0.0))
    axes.plot([p.axis_value for p in used], errors, color=style.colour, linestyle=dashes)
