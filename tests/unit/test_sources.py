"""Whatever an impairment leans on is listed in docs/sources.md with a mark."""

import re
from pathlib import Path

import pytest

from solidcopy.impairments.cards import CARDS

ROOT = Path(__file__).parents[2]
IMPAIRMENTS = ROOT / "src" / "solidcopy" / "impairments"
MARKS = ("read", "memory", "verified", "derived", "as ", "reference")
DOCUMENT = re.compile(r"(?:ITU-[RT] |IEC |ISO |CISPR )[A-Z]{0,3}\.?\d[\d-]*|\bP\.372|\bFACTS\b")
"""How documents of standards bodies, and our collection of facts, are named in our texts."""


def rows() -> list[list[str]]:
    """All table rows of docs/sources.md, cell by cell."""
    text = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]


def listed_kinds() -> dict[str, tuple[str, str]]:
    """Source and mark of each kind in the table of impairments."""
    return {
        kind: (source, mark)
        for source, kinds, mark in (row for row in rows() if len(row) == 3)
        for kind in kinds.split(", ")
    }


@pytest.mark.derived
@pytest.mark.parametrize("kind", CARDS)
def test_the_source_of_a_card_is_listed_with_its_mark(kind: str) -> None:
    source, mark = listed_kinds().get(kind, ("", ""))
    assert source == CARDS[kind].source
    assert any(word in mark for word in MARKS)


@pytest.mark.derived
def test_documents_named_in_impairments_have_a_row() -> None:
    keys = {row[0]: row[-1] for row in rows() if len(row) == 4}
    cited = {
        document
        for path in IMPAIRMENTS.rglob("*.py")
        for document in DOCUMENT.findall(path.read_text(encoding="utf-8"))
    }
    assert len(cited) > 5
    for document in cited:
        short = re.sub(r"^ITU-[RT] ", "", document)
        key = next((key for key in keys if short == key or short.startswith(f"{key}-")), None)
        assert key is not None, f"{document} is not in docs/sources.md"
        assert any(word in keys[key] for word in MARKS)
