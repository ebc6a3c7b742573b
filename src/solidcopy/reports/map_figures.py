"""Figures of a map: thresholds along it, and the shares behind them with their uncertainty."""

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MultipleLocator
from numpy.typing import NDArray

from solidcopy.reports import ink
from solidcopy.reports.facts import CampaignFacts, MapFacts
from solidcopy.reports.map_facts import MapRow, map_rows
from solidcopy.reports.measured import Estimate
from solidcopy.reports.palette import (
    PAPER,
    RULE,
    SERIES,
    SHADES,
    SeriesStyle,
    series_style,
)
from solidcopy.reports.picture import Picture
from solidcopy.reports.wording import number, quoted
from solidcopy.statistics.evidence import NoThreshold

Array = NDArray[np.float64]

MAX_DRAWN_CELLS = 2000
"""More are drawn as one picture of dots, so that the page stays light."""

BESIDE = 0.16
"""Distance between receivers at one value of a map, in the smallest gap between values."""

BAND_COLOUR = "#e3d9b8"
"""Ground behind the wanted signal's band: seen in grey, and no series' colour."""

THRESHOLDS_CAPTION = (
    "Bars: 95 % intervals, each for its value alone; all values of the map meet the same messages "
    "and the same noise, so steps between neighbours are surer than the bars look. Lines only join "
    "the points. Triangles: only a bound is known; the threshold lies on the side they point to."
)


def thresholds_picture(facts: CampaignFacts, a_map: MapFacts, place: int) -> Picture:
    """The axis value at which 50 % and 90 % get through, along the map at a 0-based place."""
    name = f"map-{place + 1}"
    with ink.style():
        figure, axes = ink.one_axes(8.2, 4.9)
        handles: list[Artist] = []
        labels = []
        for number_of, receiver in enumerate(facts.receivers):
            style, _ = series_style(number_of)
            rows = map_rows(facts, a_map, receiver.name)
            beside = _beside(facts, a_map, number_of)
            for share in (0.5, 0.9):
                handles.append(_draw_thresholds(axes, rows, share, style, beside))
                heard = f"{receiver.name}, " if len(facts.receivers) > 1 else ""
                labels.append(f"{heard}{100 * share:g} % decoded")
        if a_map.signal_band is not None:
            axes.axvspan(*a_map.signal_band, color=BAND_COLOUR, linewidth=0, zorder=0)
            handles.append(Patch(color=BAND_COLOUR))
            labels.append("band of the wanted signal")
        axes.set_xlim(*_ends([row.value for row in rows]))
        axes.set_xlabel(a_map.label)
        axes.set_ylabel(facts.axis.label)
        figure.legend(handles, labels, loc="outside upper left", ncols=3, handlelength=3.4)
        svg = ink.svg_text(figure, name)
    return Picture(
        name,
        f"{quoted(a_map.condition)}: thresholds along the map",
        f"Thresholds in {facts.axis.label} at which 50 % and 90 % of the messages are decoded, "
        f"against {a_map.label}, for {quoted(a_map.condition)}. All numbers stand in the table.",
        THRESHOLDS_CAPTION + _beside_words(facts) + _harder_words(facts),
        svg,
    )


def _beside_words(facts: CampaignFacts) -> str:
    return " Receivers stand side by side at each value." if len(facts.receivers) > 1 else ""


def _harder_words(facts: CampaignFacts) -> str:
    match facts.axis.sense:
        case "snr" | "signal_level" | "ratio":
            return " Higher is worse: more signal is needed."
        case "interference":
            return " Lower is worse: less interference is borne."
        case _:
            return ""


def _beside(facts: CampaignFacts, a_map: MapFacts, heard: int) -> float:
    """How far a receiver's points stand beside their value, so that no bar hides another."""
    values = [place.value for place in a_map.places]
    gap = min(np.diff(values), default=0.0)
    return float(BESIDE * gap * (heard - (len(facts.receivers) - 1) / 2.0))


def _draw_thresholds(
    axes: Axes,
    rows: tuple[MapRow, ...],
    share: float,
    style: SeriesStyle,
    beside: float,
) -> Line2D:
    is_hollow = share > 0.5
    dashes = (0.0, (4.0, 2.0) if is_hollow else (1.0, 0.0))
    marker: dict[str, Any] = {
        "color": style.colour,
        "markerfacecolor": PAPER if is_hollow else style.colour,
        "markersize": 4.5,
    }
    found = [(row.value + beside, _at(row, share)) for row in rows]
    known = [(value, at) for value, at in found if isinstance(at, Estimate)]
    # A gap on the map is a gap in the line.
    line = [at.value if isinstance(at, Estimate) else np.nan for _, at in found]
    axes.plot([value for value, _ in found], line, color=style.colour, lw=1.0, linestyle=dashes)
    axes.errorbar(
        [value for value, _ in known],
        [at.value for _, at in known],
        yerr=[
            [at.value - at.interval.low for _, at in known],
            [at.interval.high - at.value for _, at in known],
        ],
        fmt=style.marker,
        elinewidth=1.1,
        capsize=2.0,
        **marker,
    )
    for value, at in found:
        if isinstance(at, NoThreshold) and at.limit is not None and at.bound is not None:
            arrow = "^" if at.bound == "above" else "v"
            axes.plot([value], [at.limit], marker=arrow, ls="", **marker)
    return Line2D([], [], marker=style.marker, linewidth=1.0, linestyle=dashes, **marker)


def _at(row: MapRow, share: float) -> Estimate | NoThreshold:
    return row.curve.threshold(share).at


def shares_picture(facts: CampaignFacts, a_map: MapFacts, place: int, heard: int) -> Picture:
    """Share decoded over map and axis, as one receiver heard it, and how surely it is known.

    Args:
        facts: of the campaign.
        a_map: one of its maps.
        place: of the map, 0-based.
        heard: place of the receiver, 0-based.
    """
    receiver = facts.receivers[heard].name
    rows = map_rows(facts, a_map, receiver)
    name = f"map-{place + 1}-shares" + (f"-{heard + 1}" if len(facts.receivers) > 1 else "")
    shares, half_widths = _cells(facts, rows)
    with ink.style():
        figure = ink.sheet(8.2, 7.4)
        upper, lower = figure.subplots(2, 1, sharex=True)
        drawn = _draw_cells(upper, facts, rows, shares, 1.0)
        figure.colorbar(drawn, ax=upper, label="messages decoded", format=_percent, pad=0.01)
        _draw_half_line(upper, rows)
        upper.set_title("share of messages decoded; line: 50 %")
        drawn = _draw_cells(lower, facts, rows, half_widths, _round_up(half_widths))
        ticks = MultipleLocator(5.0 if drawn.norm.vmax == 10.0 else 10.0)
        figure.colorbar(drawn, ax=lower, label="± percentage points", ticks=ticks, pad=0.01)
        lower.set_title("half the length of its 95 % interval")
        lower.set_xlabel(a_map.label)
        svg = ink.svg_text(figure, name)
    heard_by = f", heard by {quoted(receiver)}" if len(facts.receivers) > 1 else ""
    return Picture(
        name,
        f"{quoted(a_map.condition)}{heard_by}: shares over map and axis",
        f"Share of messages decoded, against {a_map.label} and {facts.axis.label}, for "
        f"{quoted(a_map.condition)}{heard_by}, and below it half the length of its 95 % Wilson "
        f"interval. {_extremes(shares)} All counts stand in map-shares.csv.",
        f"{quoted(a_map.condition)}{heard_by}. Each cell is measured at its middle; nothing is "
        "smoothed. Above: share of messages decoded, dark where most get through, with the 50 % "
        "points as a line. Below: how far a cell's share may be off (half of its 95 % Wilson "
        "interval). Hatched: not measured. All counts stand in map-shares.csv.",
        svg,
    )


def _cells(facts: CampaignFacts, rows: tuple[MapRow, ...]) -> tuple[Array, Array]:
    """Shares, and half-widths in percentage points, (n_axis, n_map); NaN: not measured."""
    shares = np.full((len(facts.axis.values), len(rows)), np.nan)
    half_widths = np.full_like(shares, np.nan)
    places = {value: place for place, value in enumerate(facts.axis.values)}
    for column, row in enumerate(rows):
        for point in row.curve.points:
            if isinstance(point.p_decoded, Estimate):
                cell = places[point.axis_value], column
                shares[cell] = point.p_decoded.value
                half_widths[cell] = 100.0 * point.p_decoded.interval.half_width
    return shares, half_widths


def _draw_cells(
    axes: Axes, facts: CampaignFacts, rows: tuple[MapRow, ...], cells: Array, largest: float
) -> QuadMesh:
    axes.patch.set(hatch="////", edgecolor=RULE, facecolor=PAPER)
    axes.grid(False)
    axes.set_ylabel(facts.axis.label)
    is_large = cells.size > MAX_DRAWN_CELLS
    return axes.pcolormesh(
        cell_edges([row.value for row in rows]),
        cell_edges(facts.axis.values),
        np.ma.masked_invalid(cells),
        cmap=LinearSegmentedColormap.from_list("paper to ink", list(SHADES), N=64),
        vmin=0.0,
        vmax=largest,
        edgecolors="none" if is_large else RULE,
        linewidth=0.0 if is_large else 0.4,
        rasterized=is_large,
    )


def _draw_half_line(axes: Axes, rows: tuple[MapRow, ...]) -> None:
    """The 50 % points, with a pale edge so that they show on dark and light cells."""
    values = [row.value for row in rows]
    points = [row.half.value if isinstance(row.half, Estimate) else np.nan for row in rows]
    axes.plot(values, points, color=PAPER, linewidth=4.0, solid_capstyle="round")
    axes.plot(values, points, color=SERIES[1].colour, marker="s", markersize=3.0, linewidth=1.6)


def cell_edges(values: tuple[float, ...] | list[float]) -> Array:
    """Edges halfway between neighbouring values; the outer ones as far out as the inner."""
    at = np.asarray(values, dtype=np.float64)
    if at.size == 1:
        return np.array([at[0] - 0.5, at[0] + 0.5])
    middles = (at[1:] + at[:-1]) / 2.0
    return np.concatenate(
        [[at[0] - (middles[0] - at[0])], middles, [at[-1] + (at[-1] - middles[-1])]]
    )


def _ends(values: list[float]) -> tuple[float, float]:
    margin = 0.03 * (values[-1] - values[0]) or 1.0
    return values[0] - margin, values[-1] + margin


def _round_up(half_widths: Array) -> float:
    """Top of the scale: the largest, rounded up to the next 10 percentage points."""
    largest = 50.0 if np.all(np.isnan(half_widths)) else float(np.nanmax(half_widths))
    return max(10.0, 10.0 * float(np.ceil(largest / 10.0)))


def _percent(share: float, _: int | None = None) -> str:
    return f"{100.0 * share:.0f} %"


def _extremes(shares: Array) -> str:
    if np.all(np.isnan(shares)):
        return "Nothing is measured yet."
    low, high = 100.0 * float(np.nanmin(shares)), 100.0 * float(np.nanmax(shares))
    return f"Lowest {number(low, 0)} %, highest {number(high, 0)} %."
