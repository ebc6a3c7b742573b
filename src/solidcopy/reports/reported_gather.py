"""Reported levels of a campaign from its journal."""

from collections.abc import Iterator
from itertools import product

import numpy as np

from solidcopy import units
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.answers import Answers
from solidcopy.reports.measured import Estimate
from solidcopy.reports.reported_facts import (
    OVER_ALL,
    OVER_NOISE,
    Against,
    ReportedFacts,
    ReportedLevels,
    ReportedLine,
    ReportedPairs,
    ReportedPoint,
)
from solidcopy.reports.reported_truth import TrueLevels, true_levels
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.report_line import NEAR_SPAN_DB, ReportLine, excess_of, fit_report_line
from solidcopy.statistics.reported import (
    Mean,
    Reports,
    mean_of,
    median_of,
    paired_difference,
    power_mean_of,
)
from solidcopy.trials.together import n_together
from solidcopy.trials.trial import SENT

Answered = dict[float, Answers]
"""Axis value -> answers to its trials 0, 1, 2, ..."""
Truths = dict[float, dict[int, TrueLevels]]
"""Axis value -> trial index -> true levels."""


def reported_levels(reader: JournalReader) -> ReportedLevels:
    """What receivers reported and what was true, for every condition that is on no map."""
    curves: list[ReportedFacts] = []
    pairs: list[ReportedPairs] = []
    for place, condition in enumerate(reader.plan.conditions):
        if condition.mapped is not None:
            continue
        answered = dict(_stated(reader, place))
        if not answered:
            continue
        truths = _truths(reader, place, answered)
        against = _kinds(truths)
        together = n_together(condition)
        series = {
            (receiver, kind): [
                _reports(answers, truths, value, kind, together)
                for value, answers in of_receiver.items()
            ]
            for (receiver, of_receiver), kind in product(answered.items(), against)
        }
        curves += [
            _facts(condition.name, receiver, kind, points)
            for (receiver, kind), points in series.items()
        ]
        if against:
            of_receivers = {name: series[name, against[0]] for name in answered}
            pairs += _pairs(condition.name, of_receivers)
    return ReportedLevels(tuple(curves), tuple(pairs))


def _stated(reader: JournalReader, condition: int) -> Iterator[tuple[str, Answered]]:
    """Answers of every receiver that states levels at all."""
    for receiver, settings in enumerate(reader.plan.receivers):
        answered = {
            value: reader.answers(
                reader.series_place(condition, receiver, SENT, value),
                reader.n_counted(condition, receiver, value),
            )
            for value in reader.plan.axis.points()
        }
        if any(np.isfinite(a.reported_snr_db).any() for a in answered.values()):
            yield settings.name, answered


def _truths(reader: JournalReader, condition: int, answered: dict[str, Answered]) -> Truths:
    """True levels of all trials that some receiver answered."""
    found = {}
    for value in reader.plan.axis.points():
        n = max(of_receiver[value].n for of_receiver in answered.values())
        readings = reader.readings(condition, value, n)
        found[value] = {index: true_levels(of_one) for index, of_one in readings.items()}
    return found


def _kinds(truths: Truths) -> list[Against]:
    """What reports can be held against: what every trial has."""
    levels = [of_one for by_index in truths.values() for of_one in by_index.values()]
    kinds: list[Against] = []
    if all(of_one.snr_db is not None for of_one in levels):
        kinds.append(OVER_NOISE)
    if all(of_one.snir_db is not None for of_one in levels):
        kinds.append(OVER_ALL)
    return kinds


def _reports(
    answers: Answers, truths: Truths, value: float, kind: Against, together: int
) -> Reports:
    """Answered trials of one point with their truth; a trial without a recording has none."""
    true = {
        index: levels.snr_db if kind == OVER_NOISE else levels.snir_db
        for index, levels in truths[value].items()
    }
    index = np.array([i for i in np.flatnonzero(~answers.failed) if i in true], np.int64)
    reported = answers.reported_snr_db[index]
    is_reported = np.isfinite(reported)
    return Reports(
        value,
        index,
        np.array([true[i] for i in index], np.float64),
        is_reported,
        np.where(is_reported, reported, 0.0),
        together,
    )


def _facts(condition: str, receiver: str, against: Against, points: list[Reports]) -> ReportedFacts:
    near = fit_report_line(points, within_db=NEAR_SPAN_DB)
    line = fit_report_line(points)
    return ReportedFacts(
        condition=condition,
        receiver=receiver,
        against=against,
        points=tuple(_point(point, near) for point in points if point.index.size),
        line=line if isinstance(line, NoEvidence) else _line(line),
    )


def _point(point: Reports, near: ReportLine | NoEvidence) -> ReportedPoint:
    heard, groups = point.heard_db, point.groups
    median = median_of(heard, groups)
    excess, luck_db = _excess(point, near)
    return ReportedPoint(
        axis_value=point.value,
        n_answered=point.index.size,
        n_reported=point.n_reported,
        truth_db=units.db_from_ratio(float(np.mean(np.power(10.0, point.truth_db / 10.0)))),
        mean=_estimate(mean_of(heard, groups)),
        power_mean=_estimate(power_mean_of(heard, groups)),
        median=median if isinstance(median, NoEvidence) else Estimate(*median),
        sd_db=float(heard.std(ddof=1)) if heard.size > 1 else None,
        error=_estimate(mean_of(point.error_db, groups)),
        is_full=point.is_full,
        excess=excess,
        luck_db=luck_db,
    )


def _excess(
    point: Reports, near: ReportLine | NoEvidence
) -> tuple[Estimate | NoEvidence | None, float | None]:
    """What the mean of few reports says too much, and the most that luck explains."""
    if point.is_full:
        return None, None
    found = near if isinstance(near, NoEvidence) else excess_of(point, near)
    if isinstance(found, NoEvidence):
        return found, None
    return _estimate(found.value), found.limit_db


def _estimate(found: Mean | NoEvidence) -> Estimate | NoEvidence:
    return Estimate(found.value, found.interval) if isinstance(found, Mean) else found


def _line(line: ReportLine) -> ReportedLine:
    return ReportedLine(
        first_value=line.span[0],
        last_value=line.span[1],
        n_reports=line.n_trials,
        at_db=line.at_db,
        offset=Estimate(line.offset.value, line.offset.interval),
        slope=Estimate(line.slope.value, line.slope.interval),
        scatter_db=line.scatter_db,
    )


def _pairs(condition: str, of_receivers: dict[str, list[Reports]]) -> Iterator[ReportedPairs]:
    """Every further receiver against the first one that states levels."""
    (first, its_points), *others = of_receivers.items()
    for name, points in others:
        both = list(zip(its_points, points, strict=True))
        n_pairs, difference = paired_difference(both, is_full_only=False)
        n_full, full = paired_difference(both, is_full_only=True)
        yield ReportedPairs(
            condition,
            name,
            first,
            n_pairs,
            _estimate(difference),
            n_full,
            _estimate(full),
        )
