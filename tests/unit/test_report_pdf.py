"""The PDF says what the HTML page says, can be read aloud, and carries its fonts.

Marks looked for: ISO 14289-1 (PDF/UA-1) and ISO 32000-1, 14.7 to 14.9 (structure, language, words
for figures); 9.9 (embedded fonts). The texts are read by an independent library.
"""

import io
import re
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from pypdf import PdfReader

from duel_campaigns import Truth, plan_of_two
from duel_campaigns import write_campaign as write_duel_campaign
from report_examples import shared_campaign
from report_maps import map_campaign
from solidcopy.reports.write import ReportPaths, write_report

SILENT = {"style", "svg", "title", "footer"}
LEAVES = {"h1", "h2", "h3", "h4", "p", "li", "th", "td", "dt", "dd", "figcaption", "caption"}


class Leaves(HTMLParser):
    """What stands in each paragraph, cell or head of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._open.append(tag)
        if tag in LEAVES:
            self.texts.append("")

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not SILENT & set(self._open) and LEAVES & set(self._open):
            self.texts[-1] += data


def bare(text: str) -> str:
    """No blanks of any width: lines break elsewhere on paper."""
    return re.sub(r"[\s\u200b\u00ad]", "", text)


@cache
def written(name: str) -> ReportPaths:
    campaign = {"two": shared_campaign, "map": map_campaign, "duel": duel_campaign}[name]()
    return write_report(campaign, campaign / f"report-{name}", with_pdf=True).paths


@cache
def duel_campaign() -> Path:
    folder = map_campaign().parent / "two-builds"
    odd = "the <new> #build_ $x$ *y*"
    plan = plan_of_two(
        receivers=[
            {"kind": "builtin", "name": "old"},
            {"kind": "builtin", "name": odd, "passes": 1},
        ]
    )
    truths = {(0, 0): Truth(), (0, 1): Truth(threshold_db=-21.0, p_failed=0.05)}
    return write_duel_campaign(folder, truths, plan)


def pdf_of(name: str) -> PdfReader:
    pdf = written(name).pdf
    assert pdf is not None
    return PdfReader(pdf)


@pytest.mark.parametrize("name", ["two", "map", "duel"])
def test_it_says_everything_that_the_page_says(name: str) -> None:
    leaves = Leaves()
    leaves.feed(written(name).html.read_text(encoding="utf-8"))
    assert len(leaves.texts) > 150
    text = bare("".join(page.extract_text() for page in pdf_of(name).pages))
    text = re.sub(r"Madebysolidcopyfrom.{60,70}\d+/\d+", "", text)  # the foot of each sheet
    missing = [leaf for leaf in leaves.texts if bare(leaf) not in text]
    assert missing == []


def test_it_is_tagged_and_says_what_it_is() -> None:
    pdf = pdf_of("two")
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or root["/MarkInfo"]["/Marked"].value
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert pdf.metadata is not None
    assert pdf.metadata.title == "What does the <neighbour's> carrier cost & why?"
    assert "carrier" in str(pdf.metadata.subject)
    assert b"<pdfuaid:part>1<" in root["/Metadata"].get_data()
    kinds = [str(kind) for kind, _ in tags(root["/StructTreeRoot"])]
    for kind in ("/H1", "/H2", "/P", "/L", "/Table", "/TH", "/TD", "/Figure"):
        assert kind in kinds, kind
    figures = [words for kind, words in tags(root["/StructTreeRoot"]) if kind == "/Figure"]
    assert len(figures) >= 4
    assert all(figures)
    assert figures[0].startswith("Share of messages decoded.")


def tags(node: object) -> list[tuple[str, str]]:
    """Kind and alternative words of every tag of a tree."""
    found, waiting = [], [node]
    while waiting:
        item = waiting.pop(0)
        item = item.get_object() if hasattr(item, "get_object") else item
        if isinstance(item, list):
            waiting[:0] = list(item)
        elif isinstance(item, dict):
            if "/S" in item:
                found.append((str(item["/S"]), str(item.get("/Alt", ""))))
            if "/K" in item:
                waiting.insert(0, item["/K"])
    return found


def test_its_fonts_are_inside() -> None:
    fonts = {}
    for page in pdf_of("two").pages:
        for font in page["/Resources"].get("/Font", {}).values():
            (descendant,) = font.get_object()["/DescendantFonts"]
            descriptor = descendant.get_object()["/FontDescriptor"].get_object()
            fonts[descriptor["/FontName"]] = {"/FontFile2", "/FontFile3"} & set(descriptor)
            assert "/ToUnicode" in font.get_object()
    assert len(fonts) >= 2
    assert all(fonts.values()), fonts


def test_the_same_journal_gives_the_same_bytes(tmp_path: Path) -> None:
    again = write_report(shared_campaign(), tmp_path, with_pdf=True).paths.pdf
    first = written("two").pdf
    assert again is not None and first is not None
    assert again.read_bytes() == first.read_bytes()
    assert len(PdfReader(io.BytesIO(again.read_bytes())).pages) < 10


def test_no_pdf_of_another_state_lies_beside_a_report(tmp_path: Path) -> None:
    first = write_report(shared_campaign(), tmp_path, with_pdf=True).paths.pdf
    assert write_report(shared_campaign(), tmp_path).paths.pdf == first
    assert (tmp_path / "report.pdf").is_file()
    paths = write_report(duel_campaign(), tmp_path).paths
    assert paths.pdf is None
    assert not (tmp_path / "report.pdf").exists()
    assert all(path.is_file() for path in paths.all)
