"""The page as a file: self-contained, well-formed, in order, readable without its pictures."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from report_examples import shared_campaign, shared_report, two_conditions, write_campaign
from report_facts import facts_of
from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.measured import Estimate
from solidcopy.reports.page import page_html, shown_page
from solidcopy.reports.wording import glued
from solidcopy.reports.write import write_report
from solidcopy.statistics.evidence import NoEvidence

VOID = {"meta", "br", "img", "link", "hr", "input"}


@cache
def html() -> str:
    return shared_report().paths.html.read_text(encoding="utf-8")


class Outline(HTMLParser):
    """Tags as they open and close, headings, ids and what is loaded."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.headings: list[int] = []
        self.ids: list[str] = []
        self.loads: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.append((tag, found))
        if tag not in VOID:
            self.open.append(tag)
        self._note(tag, found)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._note(tag, dict(attrs))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, tag

    def _note(self, tag: str, found: dict[str, str | None]) -> None:
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if found.get("id"):
            self.ids.append(str(found["id"]))
        self.loads += [str(found[n]) for n in ("src", "href", "xlink:href") if found.get(n)]


@cache
def outline() -> Outline:
    parsed = Outline()
    parsed.feed(html())
    parsed.close()
    return parsed


def text_of(page: str) -> str:
    """What a reader reads: no tags, no styles, single spaces."""
    bare = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL)
    bare = re.sub(r"<[^>]+>", " ", bare).replace("&#39;", "'").replace("&amp;", "&")
    return re.sub(r"\s+", " ", bare.replace("\u00a0", " "))


def test_every_tag_is_closed_in_order() -> None:
    assert outline().open == []


def test_no_id_is_used_twice() -> None:
    ids = outline().ids
    assert len(ids) == len(set(ids))


def test_nothing_is_loaded_from_anywhere() -> None:
    assert all(load.startswith(("#", "data:")) for load in outline().loads)
    assert "@import" not in html()
    assert not any(tag in ("script", "link", "iframe") for tag, _ in outline().tags)
    addresses = set(re.findall(r"https?://[^\s\"'<>]+", html()))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert re.findall(r"url\((?!#)", html()) == []


def test_references_inside_the_page_have_targets() -> None:
    ids = set(outline().ids)
    inner = [load[1:] for load in outline().loads if load.startswith("#")]
    inner += re.findall(r"url\(#([^)]+)\)", html())
    for _, attributes in outline().tags:
        inner += (attributes.get("aria-labelledby") or "").split()
    assert inner and set(inner) <= ids


@pytest.mark.authority
def test_headings_step_down_one_at_a_time() -> None:
    # WCAG 2.1 technique G141: headings in order; one h1.
    levels = outline().headings
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_landmarks_and_language() -> None:
    tags = [tag for tag, _ in outline().tags]
    assert {"header", "main", "footer"} <= set(tags)
    assert dict(outline().tags)["html"].get("lang") == "en"


@pytest.mark.authority
def test_tables_have_captions_and_scopes() -> None:
    # WCAG 2.1 techniques H39 and H63.
    tags = outline().tags
    n_tables = sum(tag == "table" for tag, _ in tags)
    assert n_tables >= 6
    assert sum(tag == "caption" for tag, _ in tags) == n_tables
    assert all(found.get("scope") in ("col", "row") for tag, found in tags if tag == "th")


def test_pictures_have_names_and_descriptions() -> None:
    pictures = [found for tag, found in outline().tags if tag == "svg"]
    assert len(pictures) == 4
    for found in pictures:
        assert found["role"] == "img"
        assert len((found["aria-labelledby"] or "").split()) == 2


def test_the_answer_comes_first() -> None:
    text = text_of(html())
    order = [
        shared_report().headline,
        "How many messages get through",
        "Thresholds and differences",
        "False decodes and failures",
        "Were the levels right?",
        "What it looks like",
        "What was tested",
        "How it was measured",
        "Do it again",
        "Cautions",
    ]
    places = [text.index(words.replace("\u00a0", " ")) for words in order]
    assert places == sorted(places)


def test_numbers_on_the_page_are_those_of_the_facts() -> None:
    facts, text = shared_report().facts, text_of(html())
    for curve in facts.curves:
        for threshold in curve.thresholds:
            assert isinstance(threshold.at, Estimate)
            assert unsigned_estimate(threshold.at) in text
    for penalty in facts.penalties:
        assert isinstance(penalty.shift, Estimate)
        assert signed_estimate(penalty.shift) in text
    assert str(facts.root_seed) in text
    assert facts.fingerprint in text
    assert all(condition.identity in text for condition in facts.conditions)


def test_what_users_write_is_escaped() -> None:
    assert "<neighbour" not in html()
    assert "&lt;neighbour" in html()
    assert glued(shared_report().headline).split("“")[0] in html()


def test_a_re_made_trial_is_proved_and_an_unlike_one_is_not() -> None:
    text = text_of(html())
    # Trial 1@-21#0 was made for real; the other condition's digest in the journal is made up.
    assert "Proved: its samples are those of the campaign" in text
    assert "NOT the same samples as in the campaign" in text
    assert "solidcopy remake harbour 2@-17#0" in text


def test_cautions_are_there() -> None:
    text = text_of(html())
    for words in ("Never on the air", "RR 15.1", "Ears", "120 dB", "licence"):
        assert words in text


def test_figures_are_xml_of_their_own() -> None:
    assert [path.name for path in shared_report().paths.svgs] == [
        "curves.svg",
        "penalties.svg",
        "sample-1.svg",
        "sample-2.svg",
    ]
    for path in shared_report().paths.svgs:
        root = ET.parse(path).getroot()
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert root[0].tag.endswith("title") and root[0].text


def test_the_same_journal_gives_the_same_bytes(tmp_path: Path) -> None:
    again = write_report(shared_campaign(), tmp_path / "other")
    for first, second in zip(
        (shared_report().paths.html, shared_report().paths.json, *shared_report().paths.svgs),
        (again.paths.html, again.paths.json, *again.paths.svgs),
        strict=True,
    ):
        assert first.read_bytes() == second.read_bytes(), first.name


def test_nothing_half_written_is_left_behind() -> None:
    names = {path.name for path in shared_report().paths.html.parent.iterdir()}
    assert not any(name.startswith(".") for name in names)
    assert {"report.html", "facts.json", "curves.csv", "trials.csv"} <= names


def test_an_empty_campaign_has_a_page(tmp_path: Path) -> None:
    write_campaign(tmp_path, two_conditions(), [-21.0, -17.4], n_trials=0, n_silent=0)
    written = write_report(tmp_path, tmp_path / "report")
    page = text_of(written.paths.html.read_text(encoding="utf-8"))
    assert "Nothing has been measured yet" in page
    assert "not finished" in page
    assert "No trial has been run yet" in page
    assert "The journal holds no outcome of it yet" in page
    with JournalReader(tmp_path) as reader:
        assert reader.plan.title in page


def test_a_trial_that_cannot_be_made_is_said() -> None:
    facts = replace(facts_of(), title="")
    samples = (NoEvidence("the file is gone"), NoEvidence("the file is gone"))
    written = page_html(shown_page(facts, samples))
    assert "The file is gone" in written
    assert "Noise immunity of FT8" in written
    assert "solidcopy remake CAMPAIGN-FOLDER TRIAL" in written
