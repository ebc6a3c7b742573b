"""A scored log in words and as JSON."""

from collections.abc import Iterator
from typing import Any

from solidcopy.actions.read_log import entry_fields
from solidcopy.actions.score_log import ConditionScore, LogScore, PointScore, snr_2500_db
from solidcopy.reports.map_tables import bounded
from solidcopy.reports.measured import Estimate, ThresholdFacts
from solidcopy.reports.wording import counted, percent, plain, small_percent
from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold

N_NAMED = 5
"""Lines named of each kind."""
N_STRANGE = 3
"""So many wrong texts, and no right one, are likely another evening's."""
QUIET_SLOTS = 4
"""So many slots without an entry at an end of the log are worth a word."""
CELLS = "{:>12} {:>6} {:>6} {:>6} {:>8}  {}"


def score_text(score: LogScore) -> str:
    """For a terminal: the table, then everything that does not stand in it."""
    return "\n".join([*_head(score), *_tables(score), *_rest(score)])


def _head(score: LogScore) -> Iterator[str]:
    tolerance, n_entries = score.tolerance, len(score.reading.entries)
    yield (
        f"{score.request.log}: {counted(n_entries, 'entry', 'entries')} beside "
        f"{counted(len(score.key.slots), 'slot')} of {score.key.slot_s:g} s"
    )
    late = f" after taking off {plain(tolerance.late_s)} s" if tolerance.late_s else ""
    yield (
        f"a line counts in a slot if its time lies within ±{tolerance.time_s:g} s of the start"
        f"{late}, and as right if its text is the one sent, within ±{tolerance.frequency_hz:g} Hz"
    )
    if score.reading.assumptions:
        yield "assumed in reading the log:"
        for said in score.reading.assumptions:
            yield f"  {said.sentence}" + (f"  ({said.option})" if said.option else "")


def _tables(score: LogScore) -> Iterator[str]:
    for condition in score.conditions:
        if not condition.points and not condition.nothing_sent.n_trials:
            continue
        yield ""
        yield condition.name
        if condition.points:
            yield CELLS.format(
                score.axis.unit or "value",
                "slots",
                "right",
                "wrong",
                "nothing",
                "right, 95 % (Wilson)",
            )
        for point in condition.points:
            yield CELLS.format(
                plain(point.axis_value),
                point.tally.n_scored,
                point.tally.n_decoded,
                point.n_wrong,
                point.n_nothing,
                _interval(point),
            )
        yield from _thresholds(condition, score.axis.label)
        yield from _false(condition)


def _interval(point: PointScore) -> str:
    found = point.tally.decode_interval()
    if isinstance(found, NoEvidence):
        return found.reason
    return f"{percent(found.low)} to {percent(found.high)}"


def _thresholds(condition: ConditionScore, label: str) -> Iterator[str]:
    for threshold in condition.curve.thresholds:
        if isinstance(threshold.at, NoThreshold):
            yield f"  {percent(threshold.p)}: {bounded(threshold.at)} ({threshold.at.reason})"
        else:
            yield f"  {percent(threshold.p)} of the messages at {bounded(threshold.at)} ({label})"


def _false(condition: ConditionScore) -> Iterator[str]:
    n_sent = sum(point.tally.n_false_decodes for point in condition.points)
    n_slots = sum(point.tally.n_scored for point in condition.points)
    if n_slots:
        yield f"  false decodes beside a message: {n_sent} in {counted(n_slots, 'slot')}"
    silent = condition.nothing_sent
    bounds = silent.false_interval()
    if isinstance(bounds, Interval):
        yield (
            f"  false decodes where nothing was sent: {silent.n_false_decodes} in "
            f"{counted(silent.n_scored, 'slot')} (95 % exact: a slot holds one with "
            f"{small_percent(bounds.low)} to {small_percent(bounds.high)})"
        )


def _rest(score: LogScore) -> Iterator[str]:
    matched = score.matched
    yield ""
    false = list(score.all_false())
    if len(false) >= N_STRANGE and not score.right() and not score.images_hz():
        yield "not one line is right: was this log written while these slots were played?"
    for result, entry in false[:N_NAMED]:
        sent = result.slot.text or "nothing"
        where = f"slot {result.slot.slot} (line {entry.line.number})"
        yield f'false in {where}: "{entry.text}", sent: {sent}'
    if len(false) > N_NAMED:
        yield f"and {len(false) - N_NAMED} more false decodes"
    n_repeats = sum(result.n_repeats for result in matched.slots)
    if n_repeats:
        yield f"{counted(n_repeats, 'line')} repeated what its slot had already: counted once"
    n_others = sum(result.n_others for result in matched.slots)
    if n_others:
        yield f"{counted(n_others, 'line')} of other stations in the slot: neither right nor false"
    yield from _outside(score)
    yield from _medians(score)
    images_hz = score.images_hz()
    if images_hz:
        middle = images_hz[len(images_hz) // 2]
        yield (
            f"{counted(len(images_hz), 'false decode')} with the right text at another frequency, "
            f"{plain(round(middle, 1))} Hz from the lowest tone (median): a program that counts "
            "from the middle of a signal needs a larger --hz-tolerance"
        )
    before, after = score.n_unheard()
    if max(before, after) >= QUIET_SLOTS:
        yield (
            f"no entry stands in the first {before} and the last {after} slots: if the station was "
            "not listening then, they are no misses; play fewer slots or leave them out"
        )
    question = score.reading.question
    if question is not None:
        yield f"question: {question.sentence}\n  answer with {question.option}"


def _outside(score: LogScore) -> Iterator[str]:
    outside = score.matched.outside
    if not outside:
        return
    yield f"{counted(len(outside), 'line')} in no slot that was played: left out"
    for entry in outside[:N_NAMED]:
        yield f"  line {entry.line.number}: {entry.line.raw.strip()[:90]}"
    if score.matched.n_shifted > 1:
        yield (
            f"{score.matched.n_shifted} of them hold what was sent "
            f"{plain(score.matched.shift_s or 0.0)} s before their time"
        )


def _medians(score: LogScore) -> Iterator[str]:
    late_s, off_hz = score.median_late_s(), score.median_hz()
    if late_s is not None:
        said = f"right lines are stamped {plain(round(late_s, 2))} s after their slot's start"
        if off_hz is not None:
            said += f" and lie {plain(round(off_hz, 1))} Hz from the lowest tone"
        yield said + " (medians)"


def score_dict(score: LogScore) -> dict[str, Any]:
    """For a program: everything, slot by slot."""
    matched = score.matched
    return {
        "log": str(score.request.log),
        "mode": score.key.mode,
        "axis": score.axis.label,
        "tolerance": {
            "time_s": score.tolerance.time_s,
            "frequency_hz": score.tolerance.frequency_hz,
            "late_s": score.tolerance.late_s,
        },
        "conditions": [_condition_dict(condition) for condition in score.conditions],
        "n_repeated_lines": sum(result.n_repeats for result in matched.slots),
        "outside": [entry_fields(entry) for entry in matched.outside],
        "outside_with_a_sent_text": {"n": matched.n_shifted, "late_s": matched.shift_s},
        "median_late_s": score.median_late_s(),
        "median_off_hz": score.median_hz(),
        "slots": list(_slot_dicts(score)),
        "assumptions": [
            {"sentence": said.sentence, "option": said.option} for said in score.reading.assumptions
        ],
    }


def _slot_dicts(score: LogScore) -> Iterator[dict[str, Any]]:
    for result in score.matched.slots:
        is_sent = result.slot.text is not None
        reported_db = None if result.right is None else snr_2500_db(result.right)
        yield {
            "slot": result.slot.slot,
            "trial": result.slot.trial,
            "condition": result.slot.condition,
            "axis_value": result.slot.axis_value if is_sent else None,
            "sent": result.slot.text,
            "result": result.copy.value if is_sent else "nothing sent",
            "right_line": result.right and result.right.line.number,
            "reported_snr_2500_db": reported_db,
            "false": [entry_fields(entry) for entry in result.false],
        }


def _condition_dict(condition: ConditionScore) -> dict[str, Any]:
    silent = condition.nothing_sent
    return {
        "condition": condition.name,
        "points": [
            {
                "axis_value": point.axis_value,
                "n_slots": point.tally.n_scored,
                "n_right": point.tally.n_decoded,
                "n_wrong": point.n_wrong,
                "n_nothing": point.n_nothing,
                "n_false_decodes": point.tally.n_false_decodes,
                "right_95": _ends(point.tally.decode_interval()),
            }
            for point in condition.points
        ],
        "thresholds": [_threshold_dict(one) for one in condition.curve.thresholds],
        "nothing_sent": {
            "n_slots": silent.n_scored,
            "n_slots_with_false_decode": silent.n_false_trials,
            "n_false_decodes": silent.n_false_decodes,
            "slot_with_false_decode_95": _ends(silent.false_interval()),
        },
    }


def _threshold_dict(threshold: ThresholdFacts) -> dict[str, Any]:
    at = threshold.at
    if isinstance(at, Estimate):
        return {"p": threshold.p, "value": at.value, "interval_95": _ends(at.interval)}
    return {"p": threshold.p, "value": None, "why_not": at.reason}


def _ends(found: Interval | NoEvidence) -> list[float] | None:
    return [found.low, found.high] if isinstance(found, Interval) else None
