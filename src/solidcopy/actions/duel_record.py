"""Who is who in a duel, and when that was seen."""

import hashlib
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from solidcopy.errors import JournalError
from solidcopy.seeds import Chance, stream
from solidcopy.trials.identity import receiver_identity
from solidcopy.trials.plan import Plan

Kind = Literal["look", "reveal", "open"]


class Event(BaseModel):
    """A look at a duel that told something new."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: Kind
    """"look": names hidden; "reveal": hidden before, seen now; "open": seen from the start."""
    utc: str
    digest: str
    """Of the outcomes that the verdict rested on."""
    verdict: str
    """The sentence, with letters only."""


class Record(BaseModel):
    """Everything that happened to a duel, the oldest first."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    events: tuple[Event, ...] = ()

    @property
    def is_revealed(self) -> bool:
        """Whether names have been seen."""
        return any(event.kind != "look" for event in self.events)

    def after(
        self, *, digest: str, verdict: str, is_seen: bool, now: datetime | None = None
    ) -> "Record":
        """The record after a look.

        Args:
            digest, verdict: of the duel as it is now.
            is_seen: names are shown this time.
            now: of the look; None: the present.
        Returns: the same record, if nothing is new.
        """
        if is_seen and not self.is_revealed:
            kind: Kind = "reveal" if self.events else "open"
        elif self.events and (self.events[-1].digest, self.events[-1].verdict) == (digest, verdict):
            return self
        else:
            kind = "open" if self.is_revealed else "look"
        utc = (now or datetime.now(UTC)).isoformat(timespec="seconds")
        event = Event(kind=kind, utc=utc, digest=digest, verdict=verdict)
        return Record(events=(*self.events, event))

    def sentence(self, verdict: str) -> str:
        """Whether the verdict, with letters only, was reached blind."""
        looks = [event for event in self.events if event.kind == "look"]
        seen = [event for event in self.events if event.kind != "look"]
        if not seen:
            return (
                "Blind: who is A and who is B was drawn from the campaign's seed and is not shown "
                "until `solidcopy duel FOLDER --reveal`. Other commands and the campaign's own "
                "report do show names, and times for a slot may betray them."
            )
        if not looks:
            return f"Not blind: names were shown from the first look on ({when(seen[0].utc)})."
        last = looks[-1]
        what = "this verdict" if last.verdict == verdict else f"the verdict “{last.verdict}”"
        text = (
            f"Decided blind: {what} was written down on {when(last.utc)}, and the names were "
            f"revealed on {when(seen[0].utc)}."
        )
        if seen[0].digest != last.digest:
            text += " Between the two, outcomes were added."
        if seen[-1].digest != seen[0].digest:
            text += " Outcomes were added after the names were revealed: these were not blind."
        return text


def when(utc: str) -> str:
    """A moment for a reader, e.g. "2026-11-25 at 13:44:06 UTC"."""
    day, _, time = utc.partition("T")
    return f"{day} at {time.removesuffix('+00:00')} UTC"


def read_record(file: Path) -> Record:
    """What an earlier duel of the same two left behind; empty if there was none."""
    try:
        text = file.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Record()
    except (OSError, UnicodeDecodeError) as error:
        raise JournalError(f"{file}: cannot be read ({error})") from None
    try:
        return Record.model_validate(json.loads(text)["record"])
    except (ValueError, KeyError, TypeError, ValidationError):
        raise JournalError(
            f"{file}: is no duel that this program wrote; move it away to begin a new record"
        ) from None


def drawn_places(plan: Plan, places: tuple[int, int]) -> tuple[int, int]:
    """The two receivers as A and B, in an order drawn from the campaign's seed.

    The same two of the same campaign always get the same letters, whatever order they are named
    in; each two of several are drawn for themselves.
    """

    def rank(place: int) -> tuple[str, int]:
        return receiver_identity(plan.receivers[place]), place

    first, second = sorted(places, key=rank)
    both = "/".join(receiver_identity(plan.receivers[place]) for place in (first, second))
    chance = Chance(plan.root_seed, "duel", 0, 0.0)
    purpose = f"duel-letters/{hashlib.sha256(both.encode()).hexdigest()}"
    return (first, second) if stream(chance, purpose).random() < 0.5 else (second, first)
