"""How much of a text was read, where not all of it was: for modes that print what they hear."""

from collections.abc import Iterable


def edit_distance(sent: str, read: str) -> int:
    """Fewest characters to put in, take out or change to make one text of the other.

    Source: textbook, row by row.
    """
    row = list(range(len(read) + 1))
    for n_sent, character in enumerate(sent, 1):
        before, row[0] = row[0], n_sent
        for n_read, other in enumerate(read, 1):
            changed = before + (character != other)
            before, row[n_read] = row[n_read], min(changed, row[n_read] + 1, row[n_read - 1] + 1)
    return row[-1]


def character_error_rate(sent: str, read: Iterable[str]) -> float:
    """Share of a sent text that was read wrongly, 0 to 1.

    Args:
        sent: the text, not empty.
        read: all that a receiver printed in the trial; the nearest counts.
    Returns: edits over the length of the sent text, at most 1; 1 where nothing was printed.
    """
    fewest = min((edit_distance(sent, text) for text in read), default=len(sent))
    return min(fewest / len(sent), 1.0)
