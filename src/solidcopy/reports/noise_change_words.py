"""What became of each part of a noise, in words."""

from solidcopy.noise.before_after.by_part import Fate, PartChange
from solidcopy.noise.features.figure import CannotTell
from solidcopy.reports.noise_words import level_words, part_name
from solidcopy.reports.sheet import DASH
from solidcopy.reports.wording import capital, number

NOTE = (
    "Parts are matched by kind, frequency and rhythm. Gone or new: found in one recording only; a "
    "part that sank below what can be told is gone, too. Intervals (95 %) hold how well each level "
    "is read and how much it varies between stretches of ten seconds."
)


def change_cells(change: PartChange) -> tuple[str, str, str, str, str]:
    """Name, level before and after, what became of it, and by how much."""
    return (
        part_name(change.part),
        DASH if change.before is None else level_words(change.before),
        DASH if change.after is None else level_words(change.after),
        str(change.fate),
        difference_words(change),
    )


def part_lines(change: PartChange) -> list[str]:
    """Two lines of text: what became of a part, and its levels."""
    name, before, after, fate, difference = change_cells(change)
    sides = ((before, "before"), (after, "after"))
    levels = ", ".join(f"{level} {side}" for level, side in sides if level != DASH)
    more = "" if difference == DASH else f"; {difference}"
    return [f"  {name}: {fate}", f"    {levels}{more}"]


def difference_words(change: PartChange) -> str:
    """E.g. "−6.1 dB (−6.9 to −5.3)"; why there is no interval, where there is none."""
    if change.difference_db is None:
        return DASH
    words = f"{signed(change.difference_db)} dB"
    if isinstance(change.interval_db, CannotTell):
        return f"{words}; how sure: {change.interval_db.reason}"
    low, high = change.interval_db
    return f"{words} ({signed(low)} to {signed(high)})"


def signed(value: float) -> str:
    """With one decimal place and always a sign."""
    shown = number(value, 1)
    return f"+{shown}" if value >= 0.05 else shown


def parts_sentence(changes: tuple[PartChange, ...]) -> str:
    """Which parts are gone, new, quieter and louder, in one sentence."""
    told = []
    for fate in (Fate.GONE, Fate.NEW, Fate.QUIETER, Fate.LOUDER):
        names = [part_name(one.part) for one in changes if one.fate is fate]
        if names:
            told.append(f"{capital(str(fate))}: {'; '.join(names)}.")
    return " ".join(told) if told else "No part is gone, new, quieter or louder for sure."
