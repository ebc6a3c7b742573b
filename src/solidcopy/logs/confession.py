"""Collects what was found, assumed, dropped and left open while a log is read."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import IntEnum

from solidcopy.logs.entry import Assumption, Dropped, Line, Question


class Weight(IntEnum):
    """How much hangs on an open point; the gravest is asked."""

    COLUMNS = 0
    """Without them there is no entry at all."""
    DATE_ORDER = 1
    """Months off."""
    DATE = 2
    """Days off."""
    ZONE = 3
    """Hours off."""
    SNR_REFERENCE = 4
    """Several dB off; the figures stay unused until it is known."""


@dataclass(slots=True)
class Confession:
    """Filled step by step by the reader."""

    found: list[str] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)
    _dropped: dict[str, list[Line]] = field(default_factory=dict)
    _open: list[tuple[Weight, Question]] = field(default_factory=list)

    def assume(self, sentence: str, option: str | None = None) -> None:
        """Note something that the file does not say."""
        said = Assumption(sentence, option)
        if said not in self.assumptions:
            self.assumptions.append(said)

    def drop(self, reason: str, lines: Iterable[Line]) -> None:
        """Note lines that give no entry."""
        dropped = list(lines)
        if dropped:
            self._dropped.setdefault(reason, []).extend(dropped)

    def ask(self, weight: Weight, sentence: str, option: str) -> None:
        """Note an open point; only the gravest of them is asked in the end."""
        self._open.append((weight, Question(sentence, option)))

    def dropped(self) -> tuple[Dropped, ...]:
        """By reason, lines ascending, the commonest reason first."""
        groups = [
            Dropped(reason, tuple(sorted(lines, key=lambda line: line.number)))
            for reason, lines in self._dropped.items()
        ]
        return tuple(sorted(groups, key=lambda group: -len(group.lines)))

    def question(self) -> Question | None:
        """The gravest open point."""
        return min(self._open, key=lambda point: point[0])[1] if self._open else None


def listed(numbers: Sequence[int], most: int = 5) -> str:
    """Line numbers in a sentence: "line 7", "lines 3, 9 and 12", "lines 1, 2, 3 … (40 in all)"."""
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    if len(numbers) > most:
        shown = ", ".join(map(str, numbers[:most]))
        return f"lines {shown} … ({len(numbers)} in all)"
    return f"lines {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"
