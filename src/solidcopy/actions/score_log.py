"""Score a log against the slots that were played."""

import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from solidcopy import units
from solidcopy.actions.read_log import read_log_file
from solidcopy.errors import LogError
from solidcopy.logs.entry import Entry, LogReading, ReadOptions
from solidcopy.logs.match import Copy, Matched, SlotResult, Tolerance, match, normal_text
from solidcopy.logs.schedule import Key, read_key
from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.curves import Counted, curve_facts
from solidcopy.reports.curves import read as read_curve
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.fading import curve_form
from solidcopy.reports.measured import CurveFacts
from solidcopy.statistics.points import Points
from solidcopy.statistics.tally import Tally
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.score import MAX_FREQUENCY_ERROR_HZ

TIME_SHARE = 0.25
"""Tolerance of the clock where none is asked: a quarter of a slot."""
WRONG_CLOCK = 0.5
"""Share of entries that fit another time, from which the clock must be wrong."""
RECEIVER = "log"


@dataclass(frozen=True, slots=True)
class ScoreRequest:
    """How to score.

    Args:
        log, key: files; the key may be given as its folder.
        options: what the user says about the log.
        time_s, frequency_hz: tolerances; None: a quarter of a slot, and as for any receiver.
        late_s: by which the log stamps its lines behind the start of their slots.
    """

    log: Path
    key: Path
    options: ReadOptions
    time_s: float | None = None
    frequency_hz: float = MAX_FREQUENCY_ERROR_HZ
    late_s: float = 0.0


@dataclass(frozen=True, slots=True)
class PointScore:
    """Slots of one condition at one axis value."""

    axis_value: float
    tally: Tally
    """Decoded: right; missed: wrong or nothing."""
    n_wrong: int
    """Slots without the right text but with another."""

    @property
    def n_nothing(self) -> int:
        """Slots without any text that counts."""
        return self.tally.n_missed - self.n_wrong


@dataclass(frozen=True, slots=True)
class ConditionScore:
    """All slots of one condition."""

    name: str
    points: tuple[PointScore, ...]
    curve: CurveFacts
    """Shares with their intervals; thresholds, or the reasons why there are none."""
    nothing_sent: Tally
    """Slots in which nothing was sent; each counts as missed."""


@dataclass(frozen=True, slots=True)
class LogScore:
    """A log beside its key."""

    request: ScoreRequest
    tolerance: Tolerance
    key: Key
    plan: Plan
    axis: AxisFacts
    reading: LogReading
    matched: Matched
    conditions: tuple[ConditionScore, ...]

    def all_false(self) -> Iterator[tuple[SlotResult, Entry]]:
        """Every false decode and its slot."""
        for result in self.matched.slots:
            for entry in result.false:
                yield result, entry

    def right(self) -> list[tuple[SlotResult, Entry]]:
        """Every right copy and its slot."""
        return [(r, r.right) for r in self.matched.slots if r.right is not None]

    def median_late_s(self) -> float | None:
        """Median time from a slot's start to the right entry."""
        late = [(entry.utc - result.slot.utc).total_seconds() for result, entry in self.right()]
        return statistics.median(late) if late else None

    def median_hz(self) -> float | None:
        """Median of the logged frequency less that of the lowest tone."""
        off = [
            entry.audio_hz - result.slot.lowest_tone_hz
            for result, entry in self.right()
            if entry.audio_hz is not None
        ]
        return statistics.median(off) if off else None

    def images_hz(self) -> list[float]:
        """Distances of right texts at a wrong frequency from the lowest tone, ascending."""
        return sorted(
            entry.audio_hz - result.slot.lowest_tone_hz
            for result, entry in self.all_false()
            if entry.audio_hz is not None
            and result.slot.text is not None
            and normal_text(entry.text) == normal_text(result.slot.text)
        )

    def n_unheard(self) -> tuple[int, int]:
        """Slots before the log's first entry, and after its last: was the station listening?"""
        if not self.reading.entries:
            return len(self.key.slots), 0
        first, last = self.reading.entries[0].utc, self.reading.entries[-1].utc
        margin_s = self.tolerance.time_s
        starts = [slot.utc for slot in self.key.slots]
        before = sum((first - start).total_seconds() > margin_s for start in starts)
        return before, sum((start - last).total_seconds() > margin_s for start in starts)


def score_log(request: ScoreRequest) -> LogScore:
    """Read a log and judge every slot of a key.

    Raises: LogError if log or key cannot be read, or a tolerance lets slots overlap.
    """
    key = read_key(request.key)
    plan = parse_plan(key.plan)
    tolerance = _tolerance(request, key)
    reading = read_log_file(request.log, request.options).reading
    matched = match(reading.entries, key.slots, tolerance)
    _refuse_wrong_clock(request.log, reading, matched)
    axis = axis_facts(plan)
    names = list(dict.fromkeys(condition.name for condition in plan.conditions))
    scores = tuple(_condition(plan, axis, name, matched.slots) for name in names)
    return LogScore(request, tolerance, key, plan, axis, reading, matched, scores)


def snr_2500_db(entry: Entry) -> float | None:
    """The SNR that the log reports, in 2500 Hz."""
    if entry.snr_db is None or entry.snr_reference_hz is None:
        return None
    return units.snr_in_bandwidth(
        entry.snr_db,
        reference_bandwidth_hz=entry.snr_reference_hz,
        to_bandwidth_hz=units.REFERENCE_BANDWIDTH_HZ,
    )


def _refuse_wrong_clock(log: Path, reading: LogReading, matched: Matched) -> None:
    """LogError if most entries would be right at another time: no score would mean anything."""
    n_entries, shift_s = len(reading.entries), matched.shift_s
    if shift_s is None or matched.n_shifted < WRONG_CLOCK * n_entries:
        return
    raise LogError(
        f"{log}: {matched.n_shifted} of {n_entries} entries hold what was sent "
        f"{abs(shift_s):g} s {'before' if shift_s > 0 else 'after'} their time: if the log's clock "
        f"is local give --times-in, if it stamps another moment give --late-s {shift_s:g}"
    )


def _tolerance(request: ScoreRequest, key: Key) -> Tolerance:
    time_s = TIME_SHARE * key.slot_s if request.time_s is None else request.time_s
    if not 0.0 < time_s < key.slot_s / 2.0:
        raise LogError(
            f"--time-tolerance-s: {time_s:g} s lets slots overlap; give less than "
            f"{key.slot_s / 2.0:g}"
        )
    if not request.frequency_hz > 0.0:
        raise LogError(f"--hz-tolerance must be above 0, not {request.frequency_hz:g}")
    return Tolerance(time_s, request.frequency_hz, request.late_s)


def _condition(
    plan: Plan, axis: AxisFacts, name: str, results: Sequence[SlotResult]
) -> ConditionScore:
    mine = [result for result in results if result.slot.condition == name]
    silent = [result for result in mine if result.slot.text is None]
    sent = [result for result in mine if result.slot.text is not None]
    values = sorted({result.slot.axis_value for result in sent})
    points = tuple(
        _point(value, [result for result in sent if result.slot.axis_value == value])
        for value in values
    )
    tallies = {point.axis_value: point.tally for point in points}
    condition = next(one for one in plan.conditions if one.name == name)
    found = read_curve(Points.of(tallies, unit=axis.unit), axis, curve_form(condition, axis))
    curve = curve_facts(
        name,
        RECEIVER,
        Counted(tallies, found, is_drawn=False),
        axis=axis,
        mode=mode_named(plan.mode).facts,
    )
    return ConditionScore(name, points, curve, _tally(silent))


def _point(axis_value: float, results: Sequence[SlotResult]) -> PointScore:
    n_wrong = sum(result.copy is Copy.WRONG for result in results)
    return PointScore(axis_value, _tally(results), n_wrong)


def _tally(results: Sequence[SlotResult]) -> Tally:
    n_right = sum(result.copy is Copy.RIGHT for result in results)
    return Tally(
        n_decoded=n_right,
        n_missed=len(results) - n_right,
        n_false_trials=sum(bool(result.false) for result in results),
        n_false_decodes=sum(len(result.false) for result in results),
    )
