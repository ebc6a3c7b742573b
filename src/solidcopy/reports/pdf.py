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
    """The page as one PDF file with its fonts inside."""
    return set_on_paper("page.typ", _values(shown))


def set_on_paper(template_name: str, values: dict[str, Any]) -> bytes:
    """One PDF file from a template, which finds the values as JSON in its input `page`.

    Source: ISO 14289-1 (PDF/UA-1) for what is tagged; the typesetter refuses to leave it out.
    """
    fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"
    with as_file(files(__package__) / "template" / template_name) as template:
        written = typst.compile(
            str(template),
            root=str(template.parent),
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            format="pdf",
            pdf_standards=[STANDARD],
            timestamp=0,
            sys_inputs={"page": json.dumps(values, ensure_ascii=False)},
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
                "pictures": [picture_values(picture) for picture in a_map.pictures],
                "sheet": sheet_values(a_map.sheet),
            }
            for a_map in shown.maps
        ],
        "decisions": sheet_values(shown.decisions),
        "curves": picture_values(shown.curves),
        "thresholds": sheet_values(shown.thresholds),
        "penalties_picture": picture_values(shown.penalties_picture),
        "penalties": _filled(shown.penalties),
        "watts": [glued(sentence) for sentence in shown.watts],
        "watts_note": glued(shown.watts_note),
        "reported": _reported(shown),
        "false_decodes": sheet_values(shown.false_decodes),
        "failures": sheet_values(shown.failures),
        "levels": _filled(shown.levels),
        "samples": [
            {
                "condition": sample.condition,
                "words": glued(sample.words),
                "picture": picture_values(sample.picture),
            }
            for sample in shown.samples
        ],
        "conditions": [{"name": c.name, "parts": _parts(c.parts)} for c in facts.conditions],
        "receivers": [{"name": r.name, "parts": _parts(r.parts)} for r in facts.receivers],
        "elapsed": sheet_values(shown.elapsed),
        "method": [glued(sentence) for sentence in shown.method],
        "words": shown.words,
        "counts": _filled(shown.counts),
        "remake": shown.remake,
        "record": sheet_values(shown.record),
        "cautions": [glued(caution) for caution in shown.cautions],
    }


def _reported(shown: ShownPage) -> dict[str, Any] | None:
    if shown.reported is None:
        return None
    return {
        "sentences": [glued(sentence) for sentence in shown.reported.sentences],
        "lines": sheet_values(shown.reported.lines),
        "pairs": sheet_values(shown.reported.pairs),
        "receivers": [
            {"picture": picture_values(receiver.picture), "sheet": sheet_values(receiver.sheet)}
            for receiver in shown.reported.receivers
        ],
    }


def sheet_values(sheet: Sheet | None) -> dict[str, Any] | None:
    """A table as templates read it."""
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
    return sheet_values(sheet) if sheet.rows else None


def picture_values(picture: Picture | None) -> dict[str, str] | None:
    """A figure as templates read it, in fonts that come along."""
    if picture is None:
        return None
    return {
        "words": f"{picture.title}. {picture.description}",
        "caption": picture.caption,
        "svg": picture.svg.replace(ink.FONTS, f"'{FIGURE_FONT}'"),
    }


def _parts(parts: tuple[Described, ...]) -> list[dict[str, Any]]:
    return [{"head": part.head, "numbers": part.numbers} for part in parts]
