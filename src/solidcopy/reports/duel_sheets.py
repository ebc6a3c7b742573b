"""Tables of a duel's page, from facts."""

from solidcopy.reports.duel_facts import ConditionDuel, CostDuel, DuelFacts, SideBySide
from solidcopy.reports.duel_words import seconds_text
from solidcopy.reports.estimates import signed_estimate
from solidcopy.reports.measured import CurveFacts, Estimate
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import (
    number,
    p_value_text,
    percent,
    plain,
    quoted,
    small_percent,
    whole,
)
from solidcopy.statistics.evidence import NoEvidence, NoThreshold


def verdicts_sheet(facts: DuelFacts) -> Sheet:
    """The figures of every condition, and of all."""
    rows = [_verdict_row(condition.name, condition.sides) for condition in facts.conditions]
    if len(facts.judged()) > 1:
        rows.append(_verdict_row("all conditions", facts.overall))
    unit = f", {facts.axis.step_unit}" if facts.axis.step_unit else ""
    methods = {
        condition.sides.difference.interval.method
        for condition in facts.conditions
        if isinstance(condition.sides.difference, Estimate)
    }
    how = f" Intervals of thresholds: {'; '.join(sorted(methods))}." if methods else ""
    return Sheet(
        "B against A, trial by trial",
        (
            "condition",
            f"threshold, B less A{unit} (95 %)",
            "slots with a false decode, B less A (95 %)",
            "reported SNR, B less A, dB (95 %)",
            "time for a slot, A",
            "time for a slot, B",
        ),
        tuple(rows),
        "A positive difference of thresholds means that B needs more (where the axis is an "
        f"interference: that B stands less).{how} False decodes: score interval of a paired "
        "difference (Tango 1998), slots with and without a message sent together. Reported SNR: "
        "trials that both decoded, Student's interval. Time: median over the trials of an axis "
        "value, mean over the axis values.",
        n_heads=1,
    )


def _verdict_row(name: str, sides: SideBySide) -> tuple[str, ...]:
    difference, snr = sides.difference, sides.snr.difference_db
    return (
        name,
        f"none: {difference.reason}"
        if isinstance(difference, NoThreshold)
        else signed_estimate(difference),
        _false_cell(sides.false.difference),
        DASH if isinstance(snr, NoEvidence) else signed_estimate(snr),
        *_cost_cells(sides.cost),
    )


def _false_cell(difference: Estimate | NoEvidence) -> str:
    if isinstance(difference, NoEvidence):
        return DASH
    low, high = (100.0 * end for end in (difference.interval.low, difference.interval.high))
    return f"{number(100.0 * difference.value, 2)} % ({number(low, 2)} to {number(high, 2)})"


def _cost_cells(cost: CostDuel | NoEvidence) -> tuple[str, str]:
    if isinstance(cost, NoEvidence):
        return DASH, DASH
    word = "processor" if cost.kind == "processor time" else "elapsed"
    return f"{seconds_text(cost.a_s)} ({word})", f"{seconds_text(cost.b_s)} ({word})"


def pairs_sheet(facts: DuelFacts, condition: ConditionDuel) -> Sheet:
    """Right by both, by one, by neither at each axis value, and in all."""
    rows = [
        (
            plain(point.axis_value),
            *_count_cells(point.counts.n_both, point.counts.n_only_a, point.counts.n_only_b),
            whole(point.counts.n_neither),
            _share_at(condition.curve_a, point.axis_value),
            _share_at(condition.curve_b, point.axis_value),
            p_value_text(point.p_exact).removeprefix("= "),
            p_value_text(point.p_mid).removeprefix("= "),
        )
        for point in condition.points
    ]
    lean = condition.sides.lean
    counts = lean.counts
    rows.append(
        (
            "all",
            *_count_cells(counts.n_both, counts.n_only_a, counts.n_only_b),
            whole(counts.n_neither),
            percent(counts.n_a / counts.n) if counts.n else DASH,
            percent(counts.n_b / counts.n) if counts.n else DASH,
            p_value_text(lean.p_exact).removeprefix("= "),
            p_value_text(lean.p_mid).removeprefix("= "),
        )
    )
    return Sheet(
        f"Pairs: {quoted(condition.name)}",
        (
            facts.axis.label,
            "both",
            "only A",
            "only B",
            "neither",
            "A decoded",
            "B decoded",
            "p (exact)",
            "mid-p",
        ),
        tuple(rows),
        f"{_test_note(condition)} Trials that one of the two gave no answer to are left out of the "
        "pairs.",
        n_heads=1,
    )


def _test_note(condition: ConditionDuel) -> str:
    note = (
        "McNemar's exact test, and its mid-p. The last row pools all axis values, which is the "
        "test stratified by axis value as well: if the two are alike, a trial that only one of "
        "them got is as likely to be A's as B's at every one of them."
    )
    if condition.n_together > 1:
        note += (
            f" Each {condition.sides.lean.unit} is tested as one difference whose sign could as "
            "well have been the other, in all and at each axis value."
        )
    if condition.p_smallest is not None:
        note += (
            f" The smallest p of a single axis value is {p_value_text(condition.p_smallest)} after "
            "Holm's correction for having been picked."
        )
    return note.replace("is = ", "is ")


def _count_cells(n_both: int, n_only_a: int, n_only_b: int) -> tuple[str, str, str]:
    return whole(n_both), whole(n_only_a), whole(n_only_b)


def _share_at(curve: CurveFacts, axis_value: float) -> str:
    for point in curve.points:
        if point.axis_value == axis_value and isinstance(point.p_decoded, Estimate):
            return percent(point.p_decoded.value)
    return DASH


def false_sheet(facts: DuelFacts) -> Sheet:
    """Slots with something that nobody sent, on both sides."""
    rows = [
        (
            condition.name,
            whole(condition.sides.false.counts.n),
            whole(condition.sides.false.counts.n_both),
            whole(condition.sides.false.counts.n_only_a),
            whole(condition.sides.false.counts.n_only_b),
            _share_cell(condition.sides.false.share_a),
            _share_cell(condition.sides.false.share_b),
        )
        for condition in facts.conditions
    ]
    return Sheet(
        "Slots with a false decode",
        ("condition", "slots", "of both", "only of A", "only of B", "A (95 %)", "B (95 %)"),
        tuple(rows),
        "In brackets exact intervals (Clopper–Pearson).",
        n_heads=1,
    )


def _share_cell(share: Estimate | NoEvidence) -> str:
    if isinstance(share, NoEvidence):
        return DASH
    low, high = small_percent(share.interval.low), small_percent(share.interval.high)
    return f"{small_percent(share.value)} ({low} to {high})"
