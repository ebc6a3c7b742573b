"""What a playing tells: slot by slot, and how far it has come."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from solidcopy.logs.schedule import Slot
from solidcopy.reports.wording import counted
from solidcopy.soundcard.player import Played
from solidcopy.trials.outcome import Outcome


@dataclass(frozen=True, slots=True)
class SlotReport:
    """What came of one slot."""

    slot: Slot
    """When, and what was sent."""
    played: Played
    outcome: Outcome | None
    """None: void, and played again."""
    reason: str
    """Why it is void; else empty."""

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        decodes = () if self.outcome is None else (self.outcome.right, *self.outcome.false)
        return {
            "utc": self.slot.utc.isoformat(),
            "trial": self.slot.trial,
            "condition": self.slot.condition,
            "axis_value": self.slot.axis_value,
            "sent": self.slot.text,
            "verdict": None if self.outcome is None else str(self.outcome.verdict),
            "decodes": [decode.text for decode in decodes if decode is not None],
            "void": self.reason or None,
            "start_error_ms": _finite(1e3 * self.played.start_error_s),
            "card_ppm": _finite(self.played.ppm),
        }

    def sentence(self) -> str:
        """One line for a person."""
        sent = "nothing" if self.slot.text is None else f'"{self.slot.text}"'
        clock = _clock_words(self.slot.utc)
        said = f"{clock} {self.slot.condition} at {self.slot.axis_value:g}: {sent}"
        if self.outcome is None:
            return f"{said}: void ({self.reason}), is played again"
        n_false = len(self.outcome.false)
        beside = f", and {counted(n_false, 'false decode')}" if n_false else ""
        return f"{said}: {self.outcome.verdict}{beside}"


@dataclass(frozen=True, slots=True)
class LiveProgress:
    """How far the playing has come."""

    message: str
    n_done: int
    """Trials that this station was scored for, earlier runs included."""
    n_planned: int
    n_void: int
    """Slots of this run that are played again."""
    now_sent: Slot | None
    """The newest slot on its way."""
    slots: tuple[SlotReport, ...]
    """Judged since the last report."""

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        now = self.now_sent
        return {
            "message": self.message,
            "n_done": self.n_done,
            "n_planned": self.n_planned,
            "n_void": self.n_void,
            "now_utc": None if now is None else now.utc.isoformat(),
            "now_sent": None if now is None else now.text,
            "slots": [slot.as_dict() for slot in self.slots],
        }

    def sentence(self) -> str:
        """One line for a person."""
        void = f", {counted(self.n_void, 'slot')} void" if self.n_void else ""
        return f"{self.message}: {self.n_done} of {self.n_planned} trials{void}"


def _finite(value: float) -> float | None:
    """JSON has no NaN."""
    return round(value, 3) if math.isfinite(value) else None


def _clock_words(utc: datetime) -> str:
    """E.g. "18:30:15"; with tenths where a slot begins between two seconds."""
    tenths = utc.microsecond // 100_000
    return f"{utc:%H:%M:%S}" + (f".{tenths}" if tenths else "")
