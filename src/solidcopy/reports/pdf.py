"""The page on paper: a tagged PDF of what the HTML page shows, set by a template of our own.

Nothing is measured or worded here. Fonts are those that come with the typesetter and with
matplotlib, so the same page gives the same bytes on any machine; no clock is read.
"""

import json
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Final

import matplotlib as mpl
import typst

from solidcopy.reports import ink
from solidcopy.reports.facts import Described
from solidcopy.reports.page import ShownPage
from solidcopy.reports.picture import Picture
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.wording import glued

FIGURE_FONT = "DejaVu Sans"
"""With which matplotlib measured the words of its figures; it brings the font along."""
STANDARD: Final = "ua-1"
"""PDF/UA-1 (ISO 14289-1): tagged, with a title, a language and words for every figure."""
WIDE = 8
"""Tables with more columns are set smaller."""


def page_pdf(shown: ShownPage) -> bytes:
    """The page as one PDF file with its fonts inside.

    Source: ISO 14289-1 (PDF/UA-1) for what is tagged; the typesetter refuses to leave it out.
    """
    fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"
    with as_file(files(__package__) / "template" / "page.typ") as template:
        written = typst.compile(
            str(template),
            root=str(template.parent),
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            format="pdf",
            pdf_standards=[STANDARD],
            timestamp=0,
            sys_inputs={"page": json.dumps(_values(shown), ensure_ascii=False)},
        )
    assert isinstance(written, bytes)
    return written


def _values(shown: ShownPage) -> dict[str, Any]:
    """What the template reads; sentences with no-break spaces, as on the HTML page."""
    facts = shown.facts
    return {
        "title": shown.title,
        "mode": facts.mode.name.upper(),
        "is_finished": facts.extent.is_finished,
        "has_trials": facts.extent.n_done > 0,
        "headline": glued(shown.answer.headline),
        "supports": [glued(sentence) for sentence in shown.answer.supports],
        "notes": facts.notes,
        "maps": [
            {
                "condition": a_map.condition,
                "places": glued(a_map.places),
                "parts": _parts(a_map.parts),
                "pictures": [_picture(picture) for picture in a_map.pictures],
                "sheet": _sheet(a_map.sheet),
            }
            for a_map in shown.maps
        ],
        "decisions": _sheet(shown.decisions),
        "curves": _picture(shown.curves),
        "thresholds": _sheet(shown.thresholds),
        "penalties_picture": _picture(shown.penalties_picture),
        "penalties": _filled(shown.penalties),
        "watts": [glued(sentence) for sentence in shown.watts],
        "watts_note": glued(shown.watts_note),
        "reported": _reported(shown),
        "false_decodes": _sheet(shown.false_decodes),
        "failures": _sheet(shown.failures),
        "levels": _filled(shown.levels),
        "samples": [
            {
                "condition": sample.condition,
                "words": glued(sample.words),
                "picture": _picture(sample.picture),
            }
            for sample in shown.samples
        ],
        "conditions": [{"name": c.name, "parts": _parts(c.parts)} for c in facts.conditions],
        "receivers": [{"name": r.name, "parts": _parts(r.parts)} for r in facts.receivers],
        "elapsed": _sheet(shown.elapsed),
        "method": [glued(sentence) for sentence in shown.method],
        "words": shown.words,
        "counts": _filled(shown.counts),
        "remake": shown.remake,
        "record": _sheet(shown.record),
        "cautions": [glued(caution) for caution in shown.cautions],
    }


def _reported(shown: ShownPage) -> dict[str, Any] | None:
    if shown.reported is None:
        return None
    return {
        "sentences": [glued(sentence) for sentence in shown.reported.sentences],
        "lines": _sheet(shown.reported.lines),
        "pairs": _sheet(shown.reported.pairs),
        "receivers": [
            {"picture": _picture(receiver.picture), "sheet": _sheet(receiver.sheet)}
            for receiver in shown.reported.receivers
        ],
    }


def _sheet(sheet: Sheet | None) -> dict[str, Any] | None:
    if sheet is None:
        return None
    return {
        "caption": sheet.caption,
        "columns": sheet.columns,
        "rows": sheet.rows,
        "note": sheet.note,
        "n_heads": sheet.n_heads,
        "is_wide": len(sheet.columns) > WIDE,
    }


def _filled(sheet: Sheet) -> dict[str, Any] | None:
    """None for a table without rows, where a sentence stands instead."""
    return _sheet(sheet) if sheet.rows else None


def _picture(picture: Picture | None) -> dict[str, str] | None:
    if picture is None:
        return None
    return {
        "words": f"{picture.title}. {picture.description}",
        "caption": picture.caption,
        "svg": picture.svg.replace(ink.FONTS, f"'{FIGURE_FONT}'"),
    }


def _parts(parts: tuple[Described, ...]) -> list[dict[str, Any]]:
    return [{"head": part.head, "numbers": part.numbers} for part in parts]
