"""Which entries of a log are which transmissions: by slot, text and frequency.

An entry belongs to the slot whose start is nearest to its time, if it is not farther than the
tolerance. Its text is right if it is the one sent there; spaces, small letters and the angle
brackets around calls that travel as a hash do not count, nor does the kind of minus sign. A
right text at a wrong frequency is an image, not a copy, and counts as wrong.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from solidcopy.logs.entry import Entry
from solidcopy.logs.numbers import eased
from solidcopy.logs.schedule import Slot


class Copy(StrEnum):
    """What became of one slot."""

    RIGHT = "right"
    WRONG = "wrong"
    """Not copied, but something that was not sent."""
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far an entry may lie from what was sent.

    Args:
        time_s: between an entry's time, less `late_s`, and the start of its slot.
        frequency_hz: between its audio frequency and the lowest tone; entries without a frequency
            are judged by text alone.
        late_s: by which the log stamps all lines behind the start of their slots.
    """

    time_s: float
    frequency_hz: float
    late_s: float = 0.0


@dataclass(frozen=True, slots=True)
class SlotResult:
    """One slot and the entries that belong to it."""

    slot: Slot
    right: Entry | None
    false: tuple[Entry, ...]
    """Not sent, each text once."""
    n_repeats: int
    """Further entries of the right text or of a false one."""
    n_others: int
    """Entries that are what another station sent beside it: neither right nor false."""

    @property
    def copy(self) -> Copy:
        """One of three, for slots in which something was sent."""
        if self.right is not None:
            return Copy.RIGHT
        return Copy.WRONG if self.false else Copy.NOTHING


@dataclass(frozen=True, slots=True)
class Matched:
    """A whole log beside all slots."""

    slots: tuple[SlotResult, ...]
    outside: tuple[Entry, ...]
    """In no slot that was played: other stations, or a wrong clock."""
    shift_s: float | None
    """Time by which most outside entries with a text that was sent lie behind its slot, to the
    second; None if there are none."""
    n_shifted: int
    """How many such entries there are."""


def normal_text(text: str) -> str:
    """A text as it is compared."""
    return " ".join(eased(text).upper().replace("<", " ").replace(">", " ").split())


def match(entries: Sequence[Entry], slots: Sequence[Slot], tolerance: Tolerance) -> Matched:
    """Every entry in its slot, and every slot with its result.

    Args:
        entries: of a log.
        slots: in the order of their starts.
        tolerance: see there.
    """
    starts = [slot.utc for slot in slots]
    by_slot: list[list[Entry]] = [[] for _ in slots]
    outside = []
    for entry in entries:
        stamp = entry.utc - timedelta(seconds=tolerance.late_s)
        right_of = bisect_right(starts, stamp)
        near = [place for place in (right_of - 1, right_of) if 0 <= place < len(starts)]
        distances = [abs((stamp - starts[place]).total_seconds()) for place in near]
        nearest = min(distances)
        if nearest <= tolerance.time_s:
            by_slot[near[distances.index(nearest)]].append(entry)
        else:
            outside.append(entry)
    shift_s, n_shifted = _common_shift(outside, slots)
    judged = (_judged(slot, found, tolerance) for slot, found in zip(slots, by_slot, strict=True))
    return Matched(tuple(judged), tuple(outside), shift_s, n_shifted)


def _judged(slot: Slot, entries: Sequence[Entry], tolerance: Tolerance) -> SlotResult:
    sent = None if slot.text is None else normal_text(slot.text)
    others = {normal_text(text) for text in slot.other_texts}
    right: list[Entry] = []
    false: dict[str, Entry] = {}
    n_repeats = n_others = 0
    for entry in entries:
        text = normal_text(entry.text)
        if text == sent and _is_near(entry, slot, tolerance):
            right.append(entry)
        elif text in others:
            n_others += 1
        elif text in false:
            n_repeats += 1
        else:
            false[text] = entry
    n_repeats += max(0, len(right) - 1)
    return SlotResult(slot, right[0] if right else None, tuple(false.values()), n_repeats, n_others)


def _is_near(entry: Entry, slot: Slot, tolerance: Tolerance) -> bool:
    return (
        entry.audio_hz is None
        or abs(entry.audio_hz - slot.lowest_tone_hz) <= tolerance.frequency_hz
    )


def _common_shift(outside: Sequence[Entry], slots: Sequence[Slot]) -> tuple[float | None, int]:
    """By how many whole seconds most outside entries lie behind a slot with their text."""
    starts: dict[str, list[datetime]] = {}
    for slot in slots:
        if slot.text is not None:
            starts.setdefault(normal_text(slot.text), []).append(slot.utc)
    shifts = Counter(
        round((entry.utc - start).total_seconds())
        for entry in outside
        for start in starts.get(normal_text(entry.text), ())
    )
    if not shifts:
        return None, 0
    shift_s, n = shifts.most_common(1)[0]
    return float(shift_s), n
