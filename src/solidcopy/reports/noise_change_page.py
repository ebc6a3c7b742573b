"""The page of two compared recordings: one self-contained HTML file, no network, no script."""

from dataclasses import dataclass
from importlib.resources import files

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from solidcopy.noise.before_after.by_part import PartChange
from solidcopy.noise.before_after.compare import BeforeAfter, Change
from solidcopy.noise.features.figure import CannotTell
from solidcopy.noise.features.spectrum import measure_spectrum
from solidcopy.reports import ink
from solidcopy.reports.noise_change_words import NOTE, change_cells, parts_sentence, signed
from solidcopy.reports.palette import series_style
from solidcopy.reports.picture import Picture
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.wording import glued, number
from solidcopy.signals.waveform import Waveform

SEGMENT_S = 0.25
HIGHEST_SHARE = 1.15
"""Of the passband's upper edge, the picture reaches so far."""
LOWEST_DB = 30.0
"""And so far below the median of the passband."""


@dataclass(frozen=True, slots=True)
class ChangePage:
    """The finished page and the picture in it."""

    html: str
    picture: Picture


@dataclass(frozen=True, slots=True, eq=False)
class ChangeFacts:
    """What the page shows."""

    title: str
    sentence: str
    supports: tuple[str, ...]
    found: BeforeAfter
    changes: tuple[PartChange, ...]
    waveforms: tuple[Waveform, Waveform]
    """As recorded; a change of gain is taken off the second in the picture."""
    cautions: tuple[str, ...]


def change_page(facts: ChangeFacts) -> ChangePage:
    """HTML and picture of a comparison."""
    environment = Environment(
        loader=PackageLoader("solidcopy.reports", "template"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["glued"] = glued
    picture = _picture(facts)
    html = environment.get_template("noise-change.html.j2").render(
        title=facts.title,
        css=Markup((files(__package__) / "template" / "page.css").read_text(encoding="utf-8")),
        sentence=facts.sentence,
        supports=(parts_sentence(facts.changes), *facts.supports),
        parts=parts_sheet(facts.changes),
        levels=levels_sheet(facts.found),
        picture=picture,
        cautions=facts.cautions,
    )
    return ChangePage(html, picture)


def parts_sheet(changes: tuple[PartChange, ...]) -> Sheet:
    """What became of each part."""
    return Sheet(
        "The parts before and after, the strongest first",
        ("part", "what became of it", "difference (95 %)", "before", "after"),
        tuple(
            (name, fate, difference, before, after)
            for name, before, after, fate, difference in map(change_cells, changes)
        ),
        NOTE,
        n_heads=1,
    )


def levels_sheet(found: BeforeAfter) -> Sheet:
    """Levels of both recordings, band by band."""
    changes = (found.in_band, found.whole, *found.parts)
    more = (found.floor, found.impulse_rate, found.impulse_level)
    rows = [_level_row(one) for one in (*changes, *more) if isinstance(one, Change)]
    return Sheet(
        "Levels before and after",
        ("what", "before", "after", "difference (95 %)"),
        tuple(rows),
        "Levels in dBFS, 0 dBFS being a full-scale sine; impulses a minute.",
        n_heads=1,
    )


def _level_row(change: Change) -> tuple[str, str, str, str]:
    words = f"{signed(change.difference)} {change.unit}"
    if isinstance(change.interval, CannotTell):
        words += f"; how sure: {change.interval.reason}"
    else:
        words += f" ({signed(change.interval[0])} to {signed(change.interval[1])})"
    return change.name, number(change.before, 1), number(change.after, 1), words


def _picture(facts: ChangeFacts) -> Picture:
    gains_db = (0.0, facts.found.gain_change_db)
    highest_hz = HIGHEST_SHARE * max(high for _, high in facts.found.passbands_hz)
    with ink.style():
        figure, axes = ink.one_axes(8.2, 3.8)
        lowest = []
        for place, (waveform, gain_db) in enumerate(zip(facts.waveforms, gains_db, strict=True)):
            spectrum = measure_spectrum(
                waveform.samples, sample_rate_hz=waveform.sample_rate_hz, segment_s=SEGMENT_S
            )
            shown = spectrum.frequencies_hz <= highest_hz
            levels_db = spectrum.densities_dbfs_per_hz()[shown] - gain_db
            lowest.append(float(np.median(levels_db)) - LOWEST_DB)
            axes.plot(
                spectrum.frequencies_hz[shown],
                levels_db,
                color=series_style(place)[0].colour,
                linewidth=1.3 - 0.4 * place,
                dashes=(1, 0) if place == 0 else (4, 1),
                label=("before", "after")[place],
            )
        axes.set_xlim(0.0, highest_hz)
        axes.set_ylim(bottom=max(min(lowest), axes.get_ylim()[0]))
        axes.set_xlabel("frequency, Hz")
        axes.set_ylabel("dBFS in 1 Hz")
        axes.set_title("mean spectrum before and after")
        axes.legend(loc="upper right")
        svg = ink.svg_text(figure, "noise-change")
    return Picture(
        "noise-change",
        "Mean spectrum before and after",
        f"Mean power density of both recordings over frequency. {facts.sentence}",
        "Mean density over each recording; a stated change of gain is taken off the second.",
        svg,
    )
