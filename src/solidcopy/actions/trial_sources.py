"""What a trial is made of: each source with its numbers, where it lies, and what was got of it."""

import math
from dataclasses import dataclass
from typing import Literal

from solidcopy.actions.served import served
from solidcopy.impairments.area import Area
from solidcopy.impairments.catalogue import is_added, is_path
from solidcopy.impairments.chain import places
from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis import kind_words
from solidcopy.reports.describe import condition_facts
from solidcopy.reports.wording import capital, number, signed
from solidcopy.trials.make import WANTED, Making
from solidcopy.trials.plan import Plan
from solidcopy.trials.readings import Part
from solidcopy.trials.trial import LevelReading

MOST_LINES = 12
"""Numbers of a source that are told; the plan has them all."""
Family = Literal["wanted", "added", "path", "chain"]
LINE_HZ = 40.0
"""What is no wider is called a line."""
ACTS = {
    "path": "acts on the wanted signal; it has no place of its own",
    "chain": "acts on the sum, inside the receiver; it has no place of its own",
}


@served
@dataclass(frozen=True, slots=True)
class Outline:
    """A rectangle in which something lies."""

    from_s: float
    to_s: float
    low_hz: float
    high_hz: float


NOWHERE: tuple[Outline, ...] = ()


@served
@dataclass(frozen=True, slots=True)
class Source:
    """The wanted signal or one impairment."""

    number: int
    """By which it is muted: 0 is the wanted signal, others count as the plan lists them."""
    name: str
    called: str
    """The same within a sentence."""
    family: Family
    """What it is; an added disturbance is a part of the sum, a path acts on the wanted signal, a
    block of the chain on the sum."""
    numbers: tuple[str, ...]
    """What it was asked to be."""
    place: str
    """Where it lies, in words."""
    outlines: tuple[Outline, ...]
    """Where it lies; empty where that is everywhere or nowhere."""
    can_mute: bool
    is_muted: bool


@served
@dataclass(frozen=True, slots=True)
class Level:
    """A level that was asked for and what the samples of the whole trial hold."""

    number: int
    """Of the source."""
    name: str
    quantity: str
    """With its reference bandwidth, where it has one."""
    asked_db: float | None
    got_db: float | None
    """Null: none of it is in this slot."""
    expected_db: float | None
    """What was asked, with what the draws of this trial are known to add."""
    spread_db: float
    """Standard deviation that chance explains."""
    mean_dbfs: float | None
    """Over the slot."""
    while_on_dbfs: float | None
    peak_dbfs: float | None
    words: str
    """Whether it is as asked."""


def sources_of(plan: Plan, making: Making, silent: frozenset[int]) -> tuple[Source, ...]:
    """The wanted signal, then all impairments as listed."""
    facts = condition_facts(plan, making.trial.condition)
    told = [
        tuple(f"{name}: {value}" for name, value in part.numbers[:MOST_LINES])
        for part in facts.parts
    ]
    found = [_wanted(making, told[0], is_muted=WANTED in silent)]
    parts = {part.place: part for part in making.mix.parts}
    seen: dict[str, int] = {}
    for place, impairment in enumerate(making.trial.condition.impairments):
        n_before = seen.get(impairment.kind, 0)
        seen[impairment.kind] = n_before + 1
        family: Family = (
            "added" if is_added(impairment) else "path" if is_path(impairment) else "chain"
        )
        words, outlines = ACTS.get(family, ""), NOWHERE
        if place in parts:
            words, outlines = _place_of(parts[place], making)
        can_mute = getattr(impairment, "on", True) and (
            getattr(impairment, "place", 0) != places.SLOT_CLOCK
        )
        found.append(
            Source(
                number=place + 1,
                name=capital(called := _called(impairment.kind, n_before)),
                called=called,
                family=family,
                numbers=told[place + 1],
                place=words,
                outlines=outlines,
                can_mute=can_mute,
                is_muted=place + 1 in silent and can_mute,
            )
        )
    return tuple(found)


def _called(kind: str, n_before: int) -> str:
    words = kind_words(kind)
    return f"{words} {n_before + 1}" if n_before else words


def _wanted(making: Making, numbers: tuple[str, ...], *, is_muted: bool) -> Source:
    mode, truth = mode_named(making.trial.mode), making.truth
    facts = mode.facts
    lasts_s = facts.duration_s if truth.message is None else mode.lasts_s(truth.message)
    is_sent = truth.message is not None
    start_s = facts.nominal_start_s + truth.time_offset_s
    # Paths widen the band by as much as they say.
    as_sent = (making.sent.audio_hz - facts.width_hz, making.sent.audio_hz + 2.0 * facts.width_hz)
    low_hz, high_hz = facts.reach_hz(making.sent.audio_hz)
    outline = Outline(
        from_s=max(start_s, 0.0),
        to_s=min(start_s + lasts_s, facts.slot_s),
        low_hz=low_hz + making.mix.wanted.occupied_hz[0] - as_sent[0],
        high_hz=high_hz + making.mix.wanted.occupied_hz[1] - as_sent[1],
    )
    words = f"{_span(outline.low_hz, outline.high_hz)}, {number(outline.from_s, 2)} to "
    words += f"{number(outline.to_s, 2)} s"
    return Source(
        number=WANTED,
        name="Wanted signal",
        called="wanted signal",
        family="wanted",
        numbers=numbers,
        place=words if is_sent else "nothing is sent in this trial",
        outlines=(outline,) if is_sent else (),
        can_mute=is_sent,
        is_muted=is_muted and is_sent,
    )


def _place_of(part: Part, making: Making) -> tuple[str, tuple[Outline, ...]]:
    """Where a part lies, in words and as outlines."""
    slot_s = mode_named(making.trial.mode).facts.slot_s
    areas = part.disturbance.areas
    low_hz, high_hz = part.disturbance.occupied_hz
    if areas is None:
        if low_hz <= 0.0 and high_hz >= making.trial.synthesis_rate_hz / 2.0:
            return "everywhere, all the time", ()
        return f"{_span(low_hz, high_hz)}, all the time", (Outline(0.0, slot_s, low_hz, high_hz),)
    outlines = tuple(Outline(a.from_s, a.to_s, a.low_hz, a.high_hz) for a in areas)
    if not areas:
        return "not in this slot", ()
    return _areas_words(areas, slot_s), outlines


def _areas_words(areas: tuple[Area, ...], slot_s: float) -> str:
    first = areas[0]
    bands = {(round(area.low_hz, 3), round(area.high_hz, 3)) for area in areas}
    is_always = all(area.to_s - area.from_s >= slot_s - 1e-6 for area in areas)
    if is_always:
        if len(bands) == 1:
            return f"{_span(first.low_hz, first.high_hz)}, all the time"
        return f"{len(bands)} lines, {_reach(areas)}, all the time"
    if len(bands) == 1:
        times = ", ".join(number(area.from_s, 2) for area in areas[:5])
        more = f" and {len(areas) - 5} more" if len(areas) > 5 else ""
        return f"{_span(first.low_hz, first.high_hz)}, from {times} s{more}"
    return f"{len(areas)} places, {_reach(areas)}"


def _reach(areas: tuple[Area, ...]) -> str:
    return _span(min(area.low_hz for area in areas), max(area.high_hz for area in areas))


def _span(low_hz: float, high_hz: float) -> str:
    if high_hz - low_hz <= LINE_HZ:
        return f"a line at {number((low_hz + high_hz) / 2.0, 0)} Hz"
    return f"{number(max(low_hz, 0.0), 0)} to {number(high_hz, 0)} Hz"


def levels_of(making: Making) -> tuple[Level, ...]:
    """Asked and got of every added disturbance, in the order of the plan."""
    readings = zip(making.mix.parts, making.recording.readings.levels, strict=True)
    ordered = sorted(readings, key=lambda pair: pair[0].place)
    return tuple(_level(part, got) for part, got in ordered)


def _level(part: Part, got: LevelReading) -> Level:
    expected = None if got.asked_db is None else got.asked_db + got.drawn_db
    return Level(
        number=part.place + 1,
        name=capital(kind_words(got.name)),
        quantity=got.quantity,
        asked_db=finite(got.asked_db),
        got_db=finite(got.got_db),
        expected_db=finite(expected),
        spread_db=round(got.spread_db, 3),
        mean_dbfs=finite(got.mean_dbfs),
        while_on_dbfs=finite(got.while_on_dbfs),
        peak_dbfs=finite(got.peak_dbfs),
        words=_level_words(got),
    )


def _level_words(got: LevelReading) -> str:
    if got.asked_db is None:
        return "kept as recorded; the ratio came about"
    if not math.isfinite(got.got_db):
        return "none of it fell into this slot"
    if abs(got.drawn_db) >= 0.05:
        return (
            f"the draws of this trial add {signed(got.drawn_db, 1)} dB; the rest is within "
            f"{number(abs(got.got_db - got.asked_db - got.drawn_db), 2)} dB"
        )
    return f"{signed(got.got_db - got.asked_db, 2)} dB from what was asked"


def finite(value: float | None) -> float | None:
    """For JSON, which has no infinity; three decimals."""
    return round(value, 3) if value is not None and math.isfinite(value) else None
