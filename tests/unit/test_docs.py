"""Documentation keeps its promises: generated pages are fresh, links lead somewhere, keys exist."""

import re
from pathlib import Path

import pytest

from solidcopy.actions.new_plan import QUESTIONS, Question
from solidcopy.cli.reference import pages

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", *sorted(DOCS.rglob("*.md"))]


@pytest.mark.parametrize("name", sorted(pages()))
def test_generated_page_is_fresh(name: str) -> None:
    on_disk = (DOCS / "reference" / name).read_text(encoding="utf-8")
    assert on_disk == pages()[name], "run `make reference`"


LINK = re.compile(r"\]\(([^)#]+?)(?:#[^)]*)?\)")


def test_every_page_is_reachable_from_the_readme() -> None:
    reached: set[Path] = set()
    waiting = [ROOT / "README.md"]
    while waiting:
        page = waiting.pop()
        if page in reached:
            continue
        reached.add(page)
        targets = [t for t in LINK.findall(page.read_text(encoding="utf-8")) if "://" not in t]
        pages_linked = ((page.parent / target).resolve() for target in targets)
        waiting += [linked for linked in pages_linked if linked.suffix == ".md"]
    lost = sorted(str(page.relative_to(ROOT)) for page in set(PAGES) - reached)
    assert not lost, f"no link leads to {lost}; add it to docs/README.md"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_to_files(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for target in LINK.findall(text):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_cited_sources_exist() -> None:
    keys = set(re.findall(r"^\| ([A-Z][\w.-]+) \|", (DOCS / "sources.md").read_text(), re.M))
    cited = {
        key
        for page in PAGES
        for key in re.findall(r"\[([A-Z][A-Z0-9.-]{1,}[A-Z0-9])\](?!\()", page.read_text())
    }
    assert cited and cited <= keys


def test_every_starting_plan_is_shown_by_a_question() -> None:
    folder = ROOT / "src/solidcopy/actions/starting_plans"
    assert {path.stem for path in folder.glob("*.toml")} == {str(q) for q in Question}
    assert set(QUESTIONS) == set(Question)
