"""Reported levels as tables: for the page as rows of text, for programs as CSV; from facts."""

import csv
from collections.abc import Iterator
from io import StringIO

from solidcopy.reports.cell_text import cell_text
from solidcopy.reports.estimates import signed_estimate, unsigned_estimate
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate
from solidcopy.reports.reported_facts import (
    OVER_ALL,
    ReportedFacts,
    ReportedPairs,
    ReportedPoint,
)
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import number, percent, plain, quoted, whole
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.reported import FEWEST_REPORTS, FULL_SHARE


def points_sheet(facts: CampaignFacts, receiver: str) -> Sheet:
    """What one receiver reported at each axis value; a value without a report is left out."""
    curves = [curve for curve in facts.reported.curves if curve.receiver == receiver]
    first = [curve for curve in curves if curve.against == curves[0].against]
    further = {curve.condition: curve for curve in curves if curve.against != curves[0].against}
    head = curves[0].against
    columns = [
        "condition",
        facts.axis.label,
        "reported of answered",
        "mean report, dB",
        "mean of its powers, dB",
        "median, dB",
        "scatter (sd), dB",
        f"report − {head}, dB (95 %)",
        *([f"report − {OVER_ALL}, dB (95 %)"] if further else []),
        "mean too high by, dB (95 %)",
        "luck explains at most, dB",
    ]
    rows = []
    for curve in first:
        others = further[curve.condition].points if curve.condition in further else None
        for place, point in enumerate(curve.points):
            if point.n_reported:
                beside = [] if not further else [_signed(others[place].error) if others else DASH]
                rows.append(tuple(_point_cells(curve.condition, point, beside)))
    return Sheet(
        f"Reported SNR in 2500 Hz: receiver {quoted(receiver)}",
        tuple(columns),
        tuple(rows),
        f"Only decoded messages have a report. Where fewer than {percent(FULL_SHARE)} do, the mean "
        "is that of the lucky few (*): the last columns say how far it lies above what the line "
        "from the values next to it expects, and the most that luck explains if reports scatter "
        "normally. Reports are averaged as they stand, in dB; the mean of the powers that they "
        "stand for lies higher. A report is held against the level measured in its own recording. "
        f"Fewer than {FEWEST_REPORTS} reports give no mean.",
    )


def _point_cells(condition: str, point: ReportedPoint, beside: list[str]) -> Iterator[str]:
    mark = "" if point.is_full else " *"
    yield condition
    yield plain(point.axis_value)
    yield f"{whole(point.n_reported)} of {whole(point.n_answered)}{mark}"
    yield _bare(point.mean)
    yield _bare(point.power_mean)
    yield _bare(point.median)
    has_mean = isinstance(point.mean, Estimate)
    yield DASH if point.sd_db is None or not has_mean else number(point.sd_db, 2)
    yield _signed(point.error)
    yield from beside
    yield _signed(point.excess)
    yield DASH if point.luck_db is None else number(point.luck_db, 2)


def lines_sheet(facts: CampaignFacts) -> Sheet:
    """The fitted lines."""
    return Sheet(
        "Report against truth, fitted where nearly all messages have a report",
        (
            "condition",
            "receiver",
            "held against",
            f"over ({facts.axis.label})",
            "reports",
            "at a true level of, dB",
            "report − truth there, dB (95 %)",
            "dB reported for each dB (95 %)",
            "scatter about the line (sd), dB",
        ),
        tuple(_line_row(curve) for curve in facts.reported.curves),
        "A receiver that reports the truth has a difference of 0 and a slope of 1. Least squares "
        "over single trials, with intervals that allow for unequal scatter. I: the mean power "
        "in the slot of all that was added besides the noise.",
        n_heads=3,
    )


def _line_row(curve: ReportedFacts) -> tuple[str, ...]:
    names = (curve.condition, curve.receiver, curve.against)
    line = curve.line
    if isinstance(line, NoEvidence):
        return (*names, f"none: {line.reason}", DASH, DASH, DASH, DASH, DASH)
    return (
        *names,
        f"{plain(line.first_value)} to {plain(line.last_value)}",
        whole(line.n_reports),
        number(line.at_db, 1),
        signed_estimate(line.offset),
        unsigned_estimate(line.slope),
        number(line.scatter_db, 2),
    )


def pairs_sheet(facts: CampaignFacts) -> Sheet | None:
    """Receivers compared by their reports on the same recordings; None with fewer than two."""
    if not facts.reported.pairs:
        return None
    return Sheet(
        "Reported SNR in 2500 Hz of two receivers, trial by trial",
        (
            "compared",
            "condition",
            "trials both reported",
            "difference, dB (95 %)",
            "of these, where both report nearly all",
            "difference there, dB (95 %)",
        ),
        tuple(_pair_row(pair) for pair in facts.reported.pairs),
        "Means over different trials cannot be compared: the receiver that decodes more counts "
        "weaker ones. Here both look at the same recordings. What luck is left is that of one "
        "receiver alone; where both report nearly all there is next to none. A report is no "
        "measure of sensitivity: that is the threshold.",
    )


def _pair_row(pair: ReportedPairs) -> tuple[str, ...]:
    return (
        f"{quoted(pair.receiver)} less {quoted(pair.against)}",
        pair.condition,
        whole(pair.n_pairs),
        _signed(pair.difference),
        whole(pair.n_full_pairs),
        _signed(pair.full_difference),
    )


def _signed(found: Estimate | NoEvidence | None) -> str:
    return signed_estimate(found) if isinstance(found, Estimate) else DASH


def _bare(found: Estimate | NoEvidence) -> str:
    return number(found.value, 2) if isinstance(found, Estimate) else DASH


def reported_csv(facts: CampaignFacts) -> str:
    """One row for each condition, receiver, truth and axis value; levels in dB."""
    text = StringIO()
    table = csv.writer(text, lineterminator="\n")
    estimates = ("mean", "power_mean", "median", "error", "excess")
    table.writerow(
        (
            "condition",
            "receiver",
            "held_against (SNRs in 2500 Hz)",
            f"axis_value ({facts.axis.label})",
            "n_answered",
            "n_reported",
            "is_full",
            "truth_db",
            "sd_db",
            "luck_db",
            *(f"{name}{end}_db" for name in estimates for end in ("", "_low", "_high")),
        )
    )
    for curve in facts.reported.curves:
        for point in curve.points:
            table.writerow(
                (
                    cell_text(curve.condition),
                    cell_text(curve.receiver),
                    curve.against,
                    repr(point.axis_value),
                    point.n_answered,
                    point.n_reported,
                    int(point.is_full),
                    f"{point.truth_db:.9g}",
                    _cell(point.sd_db),
                    _cell(point.luck_db),
                    *(cell for name in estimates for cell in _cells(getattr(point, name))),
                )
            )
    return text.getvalue()


def _cells(found: Estimate | NoEvidence | None) -> tuple[str, str, str]:
    if not isinstance(found, Estimate):
        return "", "", ""
    return _cell(found.value), _cell(found.interval.low), _cell(found.interval.high)


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.9g}"
