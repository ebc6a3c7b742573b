"""One table of the page: rows of text under a caption."""

from dataclasses import dataclass

DASH = "–"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table: the first `n_heads` cells of a row name it, the rest are its figures."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    n_heads: int = 2
