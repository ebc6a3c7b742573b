"""Words in a table that a spreadsheet may open."""

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def cell_text(words: str) -> str:
    """The words, with an apostrophe in front where a spreadsheet would take them for a formula.

    Names and messages may come from others: a plan that was given, a text that was decoded.
    Source: common practice, no source.
    """
    return f"'{words}" if words.startswith(FORMULA_STARTS) else words
