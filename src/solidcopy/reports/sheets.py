"""Tables of the page as rows of text, from facts."""

from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import (
    Estimate,
    FalseFacts,
    PenaltyFacts,
    ThresholdFacts,
)
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import (
    listed,
    number,
    p_value_text,
    percent,
    places_of,
    plain,
    quoted,
    small_percent,
    whole,
)
from solidcopy.statistics.evidence import NoThreshold

FIXED_BEFOREHAND = (
    "Its p supposes a number of trials fixed beforehand; as this campaign ends once it is decided, "
    "only the p at any look keeps its risk."
)


def thresholds_sheet(facts: CampaignFacts) -> Sheet:
    """Axis values at 50 % and 90 %, for an SNR also as the trade quotes it elsewhere."""
    is_snr = facts.axis.sense == "snr"
    columns = ["condition", "receiver", "share", f"{facts.axis.label} (95 %)"]
    if is_snr:
        columns += ["in 500 Hz, dB", "in 3000 Hz, dB", "C/N0, dB-Hz", "Es/N0, dB"]
    rows = []
    for curve in facts.curves:
        for threshold in curve.thresholds:
            row = [curve.condition, curve.receiver, f"{100 * threshold.p:g} %"]
            row.append(_at(threshold))
            if is_snr:
                row += _quoted(threshold)
            rows.append(tuple(row))
    return Sheet(
        f"Thresholds: {facts.axis.quantity} at which a share of the messages gets through",
        tuple(columns),
        tuple(rows),
        "In brackets the 95 % interval (profile likelihood).",
    )


def _at(threshold: ThresholdFacts) -> str:
    at = threshold.at
    return f"none: {at.reason}" if isinstance(at, NoThreshold) else unsigned_estimate(at)


def _quoted(threshold: ThresholdFacts) -> list[str]:
    if threshold.quoted is None or isinstance(threshold.at, NoThreshold):
        return [DASH] * 4
    places = places_of(threshold.at.interval)
    quoted = threshold.quoted
    return [
        number(value, places)
        for value in (
            quoted.snr_500_hz_db,
            quoted.snr_3000_hz_db,
            quoted.c_n0_db_hz,
            quoted.es_n0_db,
        )
    ]


def penalties_sheet(facts: CampaignFacts) -> Sheet:
    """Every comparison with the first, judged in pairs."""
    unit = f", {facts.axis.step_unit}" if facts.axis.step_unit else ""
    return Sheet(
        "Differences from the first, judged in pairs",
        (
            "compared",
            "heard by, or under",
            "share",
            f"difference{unit} (95 %)",
            "pairs",
            "only this decoded",
            "only the first decoded",
            "p (exact test)",
        ),
        tuple(_penalty_row(penalty) for penalty in facts.penalties),
        "A positive difference lies farther right on the axis. Pairs are trials with the same "
        "message and the same noise on both sides. The exact test (McNemar, all axis values "
        "together) asks whether one side decodes more often."
        + _group_words(facts)
        + (f" {FIXED_BEFOREHAND}" if facts.decisions else ""),
    )


def _group_words(facts: CampaignFacts) -> str:
    sizes = sorted({p.pairs.n_together for p in facts.penalties if p.pairs.n_together > 1})
    if not sizes:
        return ""
    groups = listed([str(size) for size in sizes])
    return (
        f" Where trials share a run of fading, groups of {groups} are tested, each as one "
        "difference whose sign could as well have been the other."
    )


def _penalty_row(penalty: PenaltyFacts) -> tuple[str, ...]:
    shift, pairs = penalty.shift, penalty.pairs
    return (
        f"{quoted(penalty.name)} against {quoted(penalty.against)}",
        penalty.within,
        f"{100 * penalty.p:g} %",
        f"none: {shift.reason}" if isinstance(shift, NoThreshold) else signed_estimate(shift),
        whole(pairs.n_pairs),
        whole(pairs.n_only_this),
        whole(pairs.n_only_first),
        DASH if pairs.p_value is None else p_value_text(pairs.p_value).removeprefix("= "),
    )


def false_sheet(facts: CampaignFacts) -> Sheet:
    """False decodes with and without a message sent."""
    return Sheet(
        "False decodes: messages reported that were not sent",
        (
            "condition",
            "receiver",
            "slots with",
            "slots",
            "with a false decode",
            "false decodes",
            "share of slots (95 %)",
        ),
        tuple(_false_row(false) for false in facts.false_decodes),
        "After no false decode at all the figure is the exact one-sided 95 % bound; otherwise the "
        "exact two-sided interval (Clopper–Pearson) stands in brackets." + _run_words(facts),
    )


def _run_words(facts: CampaignFacts) -> str:
    if all(fades.n_together == 1 for fades in facts.fades):
        return ""
    return (
        " Where slots share a run of fading they say less: the interval is that of the independent "
        "slots that would say as much, and after no false decode each run counts as one slot."
    )


def _false_row(false: FalseFacts) -> tuple[str, ...]:
    share = DASH
    if false.upper_bound_95 is not None:
        share = f"at most {small_percent(false.upper_bound_95)}"
    elif isinstance(false.p_false, Estimate):
        low, high = false.p_false.interval.low, false.p_false.interval.high
        share = (
            f"{small_percent(false.p_false.value)} ({small_percent(low)} to {small_percent(high)})"
        )
    return (
        false.condition,
        false.receiver,
        "a message sent" if false.arm == "sent" else "nothing sent",
        whole(false.n_trials),
        whole(false.n_with_false),
        whole(false.n_false_decodes),
        share,
    )


def failures_sheet(facts: CampaignFacts) -> Sheet | None:
    """Failed trials by reason; None if there are none."""
    if not facts.failures:
        return None
    return Sheet(
        "Failures: trials in which the receiver gave no answer",
        ("condition", "receiver", "reason", "trials"),
        tuple((f.condition, f.receiver, f.reason, whole(f.n_trials)) for f in facts.failures),
        "A failure is neither a decode nor a miss and is left out of every share.",
    )


def counts_sheet(facts: CampaignFacts) -> Sheet:
    """The counts behind the curves."""
    rows = [
        (
            curve.condition,
            curve.receiver,
            plain(point.axis_value),
            whole(point.n_decoded),
            whole(point.n_missed),
            whole(point.n_failed),
            whole(point.n_false_decodes),
            _share(point.p_decoded),
        )
        for curve in facts.curves
        for point in curve.points
    ]
    return Sheet(
        "Counts at each axis value",
        (
            "condition",
            "receiver",
            facts.axis.label,
            "decoded",
            "missed",
            "failed",
            "false decodes",
            "share decoded (95 %)",
        ),
        tuple(rows),
        "In brackets the Wilson score interval.",
        n_heads=3,
    )


def _share(share: object) -> str:
    if not isinstance(share, Estimate):
        return DASH
    low, high = percent(share.interval.low), percent(share.interval.high)
    return f"{percent(share.value)} ({low.removesuffix(' %')} to {high})"
