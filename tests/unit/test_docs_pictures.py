"""Pictures of the bench in the docs: taken by the tests, both schemes, small."""

import re
from pathlib import Path

import pytest
from PIL import Image

DOCS = Path(__file__).parents[2] / "docs"
PICTURES = DOCS / "images" / "bench"
MOST_BYTES = 120_000
TAKEN = re.compile(r'(?:portrait\(page, |looks_fit\()"([a-z-]+)"')


def taken_by_tests() -> set[str]:
    files = (Path(__file__).parents[1] / "browser").glob("test_*.py")
    return {name for file in files for name in TAKEN.findall(file.read_text(encoding="utf-8"))}


def test_every_page_has_its_picture_in_the_how_to_in_both_schemes() -> None:
    text = (DOCS / "howto" / "use-the-bench.md").read_text(encoding="utf-8")
    shown = set(re.findall(r"images/bench/([\w-]+\.png)", text))
    assert len(taken_by_tests()) >= 8
    assert shown == {f"{name}-{s}.png" for name in taken_by_tests() for s in ("light", "dark")}
    assert shown == {file.name for file in PICTURES.glob("*.png")}, "run `make portraits`"


@pytest.mark.parametrize("file", sorted(PICTURES.glob("*.png")), ids=lambda file: file.name)
def test_a_picture_is_small_and_of_its_scheme(file: Path) -> None:
    assert file.stat().st_size <= MOST_BYTES
    with Image.open(file) as picture:
        corner = picture.convert("RGB").getpixel((picture.width // 2, picture.height - 3))
    is_dark = sum(corner) < 3 * 128
    assert is_dark == file.stem.endswith("-dark")
