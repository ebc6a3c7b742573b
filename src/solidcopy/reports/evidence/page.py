"""The evidence sheet as one self-contained HTML page and as two pages of A4."""

import shlex
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from solidcopy.reports.evidence import words
from solidcopy.reports.evidence.facts import EvidenceFacts
from solidcopy.reports.evidence.figure import evidence_picture
from solidcopy.reports.evidence.sheets import (
    files_sheet,
    levels_sheet,
    method_rows,
    no_surroundings,
    surroundings_sheet,
)
from solidcopy.reports.pdf import picture_values, set_on_paper, sheet_values
from solidcopy.reports.picture import Picture
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.wording import glued, quoted

TEMPLATES = "solidcopy.reports"
KIND = "Noise measurement on two pages"


@dataclass(frozen=True, slots=True)
class EvidenceSheet:
    """What both forms show; nothing is measured behind it."""

    title: str
    headline: str
    supports: tuple[str, ...]
    picture: Picture
    levels: Sheet
    uncertainty: tuple[str, ...]
    cost_source: str
    """Empty without a campaign."""
    cost: tuple[str, ...]
    method: tuple[tuple[str, str], ...]
    surroundings: Sheet | None
    no_surroundings: str
    limits: tuple[str, ...]
    cautions: tuple[str, ...]
    next_steps: tuple[str, ...]
    files: Sheet
    command: str
    made_by: str


def evidence_sheet(facts: EvidenceFacts) -> EvidenceSheet:
    """Everything in words, tables and the figure."""
    headline = words.headline(facts)
    sheet = surroundings_sheet(facts)
    return EvidenceSheet(
        title=facts.description.title,
        headline=headline,
        supports=words.supports(facts),
        picture=evidence_picture(facts, headline),
        levels=levels_sheet(facts),
        uncertainty=words.uncertainty(facts),
        cost_source="" if facts.cost is None else f"From the campaign {quoted(facts.cost.title)}:",
        cost=(words.NO_COST,) if facts.cost is None else facts.cost.sentences,
        method=method_rows(facts),
        surroundings=sheet,
        no_surroundings="" if sheet else no_surroundings(facts),
        limits=words.limits(facts),
        cautions=words.CAUTIONS,
        next_steps=words.NEXT,
        files=files_sheet(facts),
        command=f"solidcopy evidence {shlex.quote(facts.origin.description)}",
        made_by=f"Made by solidcopy {facts.origin.version}",
    )


def evidence_html(shown: EvidenceSheet) -> str:
    """One page without network or script."""
    environment = Environment(
        loader=PackageLoader(TEMPLATES, "template"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["glued"] = glued
    css = (files(TEMPLATES) / "template" / "page.css").read_text(encoding="utf-8")
    return environment.get_template("evidence.html.j2").render(
        kind=KIND, css=Markup(css), shown=shown
    )


def evidence_pdf(shown: EvidenceSheet) -> bytes:
    """Two pages of A4, tagged, with fonts inside."""
    return set_on_paper("evidence.typ", _values(shown))


def _values(shown: EvidenceSheet) -> dict[str, Any]:
    lists = ("supports", "uncertainty", "cost", "limits", "cautions", "next_steps")
    return {
        "kind": KIND,
        "title": shown.title,
        "headline": glued(shown.headline),
        "picture": picture_values(shown.picture),
        "levels": sheet_values(shown.levels),
        "method": shown.method,
        "cost_source": shown.cost_source,
        "surroundings": sheet_values(shown.surroundings),
        "no_surroundings": shown.no_surroundings,
        "files": sheet_values(shown.files),
        "command": shown.command,
        "made_by": shown.made_by,
        **{name: [glued(one) for one in getattr(shown, name)] for name in lists},
    }
