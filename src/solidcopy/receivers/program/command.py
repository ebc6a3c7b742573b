"""Templates of a program's arguments: what may stand in braces, and what it becomes."""

import string
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

PLACEHOLDERS = {
    "audio_file": "the recording of the slot, absolute path",
    "answer_file": "the file that it is to write its decodes to, absolute path",
    "working_folder": "the folder it runs in, absolute path",
    "plan_folder": "the folder of the plan file",
    "python": "the Python that runs solidcopy",
    "mode": "the mode, e.g. ft8",
    "sample_rate_hz": "of the recording",
    "slot_s": "length of the slot in seconds",
    "slot_time": "start of the slot, UTC, ISO 8601: 2026-01-01T00:00:00Z",
    "slot_date": "its date: 20260101",
    "slot_clock": "its time of day, whole seconds: 000000",
    "slot_unix_s": "its seconds since 1970",
}
"""Names that may stand in braces in an argument or a variable of the environment."""

OF_THE_SLOT = frozenset(
    {"mode", "sample_rate_hz", "slot_s", "slot_time", "slot_date", "slot_clock", "slot_unix_s"}
)
"""Those that may stand in a file name."""


@dataclass(frozen=True, slots=True)
class Slot:
    """What the program may be told of a slot: nothing that depends on what was sent."""

    mode: str
    sample_rate_hz: int
    slot_s: float
    starts_at: datetime

    def values(self) -> dict[str, str]:
        """Of the placeholders in `OF_THE_SLOT`."""
        at = self.starts_at.astimezone(UTC)
        fraction = f".{at.microsecond // 1000:03d}" if at.microsecond else ""
        return {
            "mode": self.mode,
            "sample_rate_hz": str(self.sample_rate_hz),
            "slot_s": f"{self.slot_s:g}",
            "slot_time": f"{at:%Y-%m-%dT%H:%M:%S}{fraction}Z",
            "slot_date": f"{at:%Y%m%d}",
            "slot_clock": f"{at:%H%M%S}",
            "slot_unix_s": f"{at.timestamp():.3f}".removesuffix(".000"),
        }


def check_template(template: str, allowed: Iterable[str] = PLACEHOLDERS) -> str:
    """The template itself. Raises ValueError, one sentence, if a name in braces is not known."""
    listed = ", ".join(f"{{{name}}}" for name in allowed)
    try:
        parts = list(string.Formatter().parse(template))
    except ValueError:
        raise ValueError(
            f"{template!r}: a single brace; write {{{{ or }}}} for a brace, or one of {listed}"
        ) from None
    for _, name, layout, conversion in parts:
        if name is not None and (name not in allowed or layout or conversion):
            asked = name + (f"!{conversion}" if conversion else "") + (f":{layout}" * bool(layout))
            raise ValueError(f"{template!r}: {{{asked}}} is not known; known are {listed}")
    return template


def filled(template: str, values: Mapping[str, str]) -> str:
    """The template with its names replaced; values are never read as templates."""
    return "".join(
        literal + (values[name] if name is not None else "")
        for literal, name, _, _ in string.Formatter().parse(template)
    )


def fixed_values(plan_folder: Path) -> dict[str, str]:
    """Of the placeholders that are the same in all trials."""
    return {"plan_folder": str(plan_folder), "python": sys.executable}
