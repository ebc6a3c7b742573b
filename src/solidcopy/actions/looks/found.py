"""What a look brings."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from solidcopy.actions.looks.answer import LookAnswer
from solidcopy.reports.wording import capital


@dataclass(frozen=True, slots=True)
class Found:
    """All that is kept of a look."""

    answer: LookAnswer
    facts: dict[str, Any] | None = None
    """As the command prints them for a program; None where there are none."""
    texts: dict[str, str] = field(default_factory=dict)
    """Contents of further files by name."""


def without_file(line: str, file: Path) -> str:
    """The first line of a command's answer without the file that it begins with."""
    return capital(line.removeprefix(f"{file}: "))
