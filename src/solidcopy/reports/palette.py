"""Colours, markers and line styles of our figures and pages, and the measure they are held to.

Series differ in colour, lightness, marker and line style at once, so that colour-blind readers
and grey printers lose nothing. tests/unit/test_report_palette.py checks contrast (WCAG 2, 1.4.3
and 1.4.11) and that colours stay apart when one kind of cone is missing.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SeriesStyle:
    """How one series is drawn."""

    colour: str
    marker: str
    dashes: tuple[float, ...]
    """On and off lengths in line widths; empty for a full line."""


INK = "#1c2733"
"""Text and axes."""
SOFT_INK = "#52606d"
"""Captions and units."""
RULE = "#c3cad1"
"""Thin lines that carry no information."""
PAPER = "#ffffff"
WASH = "#f3f5f2"
"""Quiet ground behind tables and boxes."""
ACCENT = "#0b5a6b"
"""Headings and links."""

SERIES = (
    SeriesStyle("#0b4f8a", "o", ()),
    SeriesStyle("#c8501b", "s", (5.0, 2.0)),
    SeriesStyle("#3a8f6f", "^", (1.5, 1.5)),
    SeriesStyle("#6b2a63", "D", (7.0, 2.0, 1.5, 2.0)),
    SeriesStyle("#8f7a12", "v", (3.0, 1.5)),
    SeriesStyle("#2e3640", "P", (9.0, 3.0)),
)
"""In order of use; after the last the marker's filling changes and the order starts anew."""


SHADES = (PAPER, "#a9c7d3", "#3f7f99", "#0d3b54", "#04141f")
"""From nothing to much in a picture of shades: evenly darker, so grey printers lose nothing."""


def series_style(place: int) -> tuple[SeriesStyle, bool]:
    """Style of the series at a 0-based place, and whether its markers are hollow."""
    return SERIES[place % len(SERIES)], (place // len(SERIES)) % 2 == 1


def relative_luminance(colour: str) -> float:
    """Of an sRGB colour "#rrggbb", 0 (black) to 1 (white). Source: WCAG 2.1, relative luminance."""
    parts = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(colour: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21. Source: WCAG 2.1, contrast ratio."""
    lighter, darker = sorted((relative_luminance(colour), relative_luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
