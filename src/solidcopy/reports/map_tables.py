"""A map's thresholds and shares as a table of the page and as CSV, from facts."""

import csv
from io import StringIO

from solidcopy.reports.cell_text import cell_text
from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.facts import CampaignFacts, MapFacts
from solidcopy.reports.map_facts import map_rows
from solidcopy.reports.measured import Estimate
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import number, plain, quoted, whole
from solidcopy.statistics.evidence import NoThreshold

NOTE = (
    "In brackets 95 % intervals (profile likelihood), each for its value alone: of twenty, one may "
    "miss; at most and at least: the threshold lies beyond the tested axis values."
)


def map_sheet(facts: CampaignFacts, a_map: MapFacts) -> Sheet:
    """Thresholds, trials and false decodes at each value of a map."""
    baselines = _baselines(facts, a_map)
    columns = [a_map.label, "receiver", f"50 %: {facts.axis.label} (95 %)", "90 % (95 %)"]
    if baselines:
        columns.append("difference at 50 % (95 %)")
    columns += ["trials", "failed", "false decodes", "false, nothing sent"]
    rows = []
    for receiver in facts.receivers:
        for row in map_rows(facts, a_map, receiver.name):
            cells = [plain(row.value), receiver.name, bounded(row.half), bounded(row.most)]
            if baselines:
                shift = row.penalty and row.penalty.shift
                cells.append(signed_estimate(shift) if isinstance(shift, Estimate) else DASH)
            cells += [
                whole(row.curve.n_trials),
                whole(row.curve.n_failed),
                whole(row.false_sent),
                whole(row.false_silent),
            ]
            rows.append(tuple(cells))
    return Sheet(
        f"{quoted(a_map.condition)}: thresholds at each value of the map",
        tuple(columns),
        tuple(rows),
        NOTE + (f" Differences, judged in pairs: from {baselines}." if baselines else ""),
    )


def _baselines(facts: CampaignFacts, a_map: MapFacts) -> str:
    """What the values of a map are compared with; "" if with nothing."""
    penalties = [row.penalty for row in map_rows(facts, a_map, facts.receivers[0].name)]
    against = list(dict.fromkeys(p.against for p in penalties if p is not None))
    for other in facts.maps:
        if {place.condition for place in other.places} >= set(against) != set():
            return f"{quoted(other.condition)} at the same value"
    return ", ".join(map(quoted, against))


def bounded(at: Estimate | NoThreshold) -> str:
    """A threshold; "at least" or "at most" a tested value if it lies beyond; or a dash."""
    if isinstance(at, Estimate):
        return unsigned_estimate(at)
    if at.bound is None or at.limit is None:
        return DASH
    # A bound is rounded to its weak side.
    word, nudge = ("at least", -0.05) if at.bound == "above" else ("at most", 0.05)
    return f"{word} {number(at.limit + nudge, 1)}"


THRESHOLD_COLUMNS = (
    "receiver",
    "threshold_50",
    "low_50",
    "high_50",
    "bound_50",
    "threshold_90",
    "low_90",
    "high_90",
    "bound_90",
    "difference_50",
    "difference_low_50",
    "difference_high_50",
    "compared_with",
    "n_trials",
    "n_failed",
    "n_false_sent",
    "n_false_nothing_sent",
)


def map_thresholds_csv(facts: CampaignFacts) -> str:
    """One row for each map, value and receiver; thresholds in the axis' unit."""
    text = StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(("map", "map_quantity", "map_value", *THRESHOLD_COLUMNS))
    for a_map in facts.maps:
        for receiver in facts.receivers:
            for row in map_rows(facts, a_map, receiver.name):
                penalty = row.penalty
                shift = () if penalty is None else _three(penalty.shift)
                table.writerow(
                    (
                        cell_text(a_map.condition),
                        a_map.label,
                        repr(row.value),
                        cell_text(receiver.name),
                        *_four(row.half),
                        *_four(row.most),
                        *(shift or ("", "", "")),
                        "" if penalty is None else cell_text(penalty.against),
                        row.curve.n_trials,
                        row.curve.n_failed,
                        row.false_sent,
                        row.false_silent,
                    )
                )
    return text.getvalue()


def _three(at: Estimate | NoThreshold) -> tuple[float | str, ...]:
    if isinstance(at, NoThreshold):
        return "", "", ""
    return at.value, at.interval.low, at.interval.high


def _four(at: Estimate | NoThreshold) -> tuple[float | str, ...]:
    """With a one-sided bound, e.g. "below -60.5", where there is no threshold."""
    if isinstance(at, NoThreshold) and at.bound is not None and at.limit is not None:
        return "", "", "", f"{at.bound} {at.limit:g}"
    return *_three(at), ""


def map_shares_csv(facts: CampaignFacts) -> str:
    """One row for each map, value, axis value and receiver: the counts behind the heat map."""
    text = StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(
        (
            *("map", "map_quantity", "map_value", "receiver"),
            f"axis_value ({facts.axis.label})",
            *("n_decoded", "n_missed", "n_failed", "n_false"),
            *("p_decoded", "wilson_low", "wilson_high"),
        )
    )
    for a_map in facts.maps:
        for receiver in facts.receivers:
            for row in map_rows(facts, a_map, receiver.name):
                for point in row.curve.points:
                    share = point.p_decoded
                    table.writerow(
                        (
                            *(cell_text(a_map.condition), a_map.label, repr(row.value)),
                            cell_text(receiver.name),
                            *(repr(point.axis_value), point.n_decoded, point.n_missed),
                            *(point.n_failed, point.n_false_decodes),
                            *(_three(share) if isinstance(share, Estimate) else ("", "", "")),
                        )
                    )
    return text.getvalue()
