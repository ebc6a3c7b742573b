"""The hand that draws: one matplotlib style, and SVG text that is the same for the same facts."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, cast

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from solidcopy.reports.palette import INK, PAPER, RULE, SOFT_INK

FONTS = "system-ui, -apple-system, 'Segoe UI', 'Noto Sans', 'Liberation Sans', sans-serif"
"""What the reader's system offers: nothing is fetched and text stays text."""

STYLE: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "solidcopy",
    "text.parse_math": False,  # a dollar sign in a user's name is a dollar sign
    "font.size": 10.0,
    "axes.titlesize": 10.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 10.0,
    "axes.edgecolor": SOFT_INK,
    "axes.labelcolor": INK,
    "axes.titlecolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "grid.color": RULE,
    "grid.linewidth": 0.5,
    "xtick.color": SOFT_INK,
    "ytick.color": SOFT_INK,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "figure.facecolor": PAPER,
    "legend.frameon": False,
    "legend.fontsize": 9.5,
    "lines.linewidth": 1.8,
    "lines.markersize": 6.0,
}

_NO_METADATA = {"Date": None, "Creator": None, "Format": None, "Type": None}


@contextmanager
def style() -> Iterator[None]:
    """Our style for the figures made inside, whatever the user's own settings say."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(cast(Any, STYLE))
        yield


def sheet(width_in: float, height_in: float, **layout: Any) -> Figure:
    """An empty figure that belongs to no screen and no global list."""
    figure = Figure(figsize=(width_in, height_in), layout="constrained", **layout)
    FigureCanvasSVG(figure)
    return figure


def one_axes(width_in: float, height_in: float) -> tuple[Figure, Axes]:
    """A figure with one pair of axes."""
    figure = sheet(width_in, height_in)
    return figure, figure.add_subplot()


def svg_text(figure: Figure, name: str) -> str:
    """The figure as one <svg> element whose ids all start with `name`.

    Several figures may then stand in one page without two elements sharing an id.
    """
    buffer = io.StringIO()
    figure.savefig(buffer, format="svg", metadata=_NO_METADATA)
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    # A style element would hold for the whole page; what it says can stand on the root.
    text = re.sub(r"<defs>\s*<style.*?</style>\s*</defs>\s*", "", text, count=1, flags=re.DOTALL)
    text = text.replace("<svg ", '<svg style="stroke-linejoin: round; stroke-linecap: butt" ', 1)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'href="#', f'href="#{name}-', text)
    text = re.sub(r"url\(#", f"url(#{name}-", text)
    return _with_system_fonts(text)


def _with_system_fonts(text: str) -> str:
    """matplotlib names the fonts it measured with; the reader's own may do the drawing."""
    text = re.sub(r"(font: [^;\"]*?\d(?:\.\d+)?px) [^;\"]*", rf"\1 {FONTS}", text)
    return re.sub(r"font-family: [^;\"]*", f"font-family: {FONTS}", text)


def with_title(svg: str, *, name: str, title: str, description: str) -> str:
    """An <svg> that a screen reader can name and describe."""
    opening, rest = svg.split(">", 1)
    label = f' role="img" aria-labelledby="{name}-title {name}-desc"'
    return (
        f"{opening}{label}>"
        f'<title id="{name}-title">{escaped(title)}</title>'
        f'<desc id="{name}-desc">{escaped(description)}</desc>{rest}'
    )


def escaped(text: str) -> str:
    """Text that may stand in XML."""
    return (
        text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    )
