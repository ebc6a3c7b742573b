"""Colours: contrast by WCAG, and apart for readers who lack one kind of cone."""

from itertools import combinations

import numpy as np
import pytest

from solidcopy.reports.palette import (
    ACCENT,
    INK,
    PAPER,
    SERIES,
    SOFT_INK,
    WASH,
    contrast,
    relative_luminance,
    series_style,
)

# Linear-RGB projections of full protanopia, deuteranopia and tritanopia (Viénot, Brettel and
# Mollon 1999 for the first two; from memory, unchecked to the last digit). Each row adds up to 1,
# so that greys stay grey.
MISSING_CONE = {
    "protan": [[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]],
    "deutan": [[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]],
    "tritan": [[1.01, 0.0866, -0.0966], [0.0, 0.8957, 0.1043], [0.0, 0.8957, 0.1043]],
}


def linear(colour: str) -> np.ndarray:
    parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIELAB of linear sRGB, white D65. Source: IEC 61966-2-1 and CIE 15 (from memory)."""
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    xyz = to_xyz @ np.clip(rgb, 0.0, 1.0) / np.array([0.9505, 1.0, 1.089])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16.0 / 116.0)
    return np.array([116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])])


@pytest.mark.authority
def test_contrast_of_known_pairs() -> None:
    # WCAG 2.1: black on white is 21:1; #767676 is the lightest grey that passes 4.5 on white.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")
    assert relative_luminance("#ffffff") == pytest.approx(1.0)


@pytest.mark.authority
@pytest.mark.parametrize("ground", [PAPER, WASH])
@pytest.mark.parametrize("text", [INK, SOFT_INK, ACCENT, "#8a3310"])
def test_text_is_readable(text: str, ground: str) -> None:
    assert contrast(text, ground) >= 4.5  # WCAG 2.1, 1.4.3


@pytest.mark.authority
@pytest.mark.parametrize("style", SERIES, ids=lambda style: style.colour)
def test_series_stand_out_from_the_paper(style: object) -> None:
    assert contrast(style.colour, PAPER) >= 3.0  # WCAG 2.1, 1.4.11


@pytest.mark.parametrize("cone", MISSING_CONE)
def test_series_stay_apart_without_one_cone(cone: str) -> None:
    # A CIELAB distance of 2.3 is just noticeable (common practice); 10 is plainly another colour.
    project = np.array(MISSING_CONE[cone])
    for first, second in combinations([style.colour for style in SERIES[:4]], 2):
        seen = [lab(project @ linear(colour)) for colour in (first, second)]
        assert np.linalg.norm(seen[0] - seen[1]) > 10.0, (first, second, cone)


def test_series_differ_in_more_than_colour() -> None:
    assert len({style.marker for style in SERIES}) == len(SERIES)
    assert len({style.dashes for style in SERIES}) == len(SERIES)
    first, is_hollow = series_style(len(SERIES))
    assert (first, is_hollow) == (SERIES[0], True)
