"""A line through what a receiver reports where it reports nearly everything, and what the reports
of a chosen few say beyond it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from solidcopy.statistics.evidence import Interval, NoEvidence
from solidcopy.statistics.reported import FULL_SHARE, Mean, Reports, luck, mean_of
from solidcopy.statistics.shapes import Array

FEWEST_VALUES = 3
"""Axis values with nearly all trials reported, for a line."""
LEAST_SPAN_DB = 2.0
"""True levels must differ by this much, or there is no slope to be seen."""
NEAR_SPAN_DB = 6.0
"""Lowest stretch of the fully reported range that is carried on below it."""


@dataclass(frozen=True, slots=True, eq=False)
class ReportLine:
    """report = truth + offset + (slope − 1) · (truth − at), by least squares over trials.

    Args:
        at_db: mean truth of the trials used; there the offset holds.
        offset: report less truth at `at_db`, dB.
        slope: dB reported for each dB of truth.
        scatter_db: standard deviation of reports about the line.
        n_trials: reports used.
        span: lowest and highest axis value used.
        covariance: (2, 2) of offset and slope.
    """

    at_db: float
    offset: Mean
    slope: Mean
    scatter_db: float
    n_trials: int
    span: tuple[float, float]
    covariance: Array

    def error_at(self, truth_db: float) -> tuple[float, float]:
        """Expected report less truth at a true level, and its standard error; both dB."""
        step = np.array([1.0, truth_db - self.at_db])
        error = self.offset.value + (self.slope.value - 1.0) * float(step[1])
        return error, math.sqrt(float(step @ self.covariance @ step))


@dataclass(frozen=True, slots=True)
class Excess:
    """What the mean report of a chosen few says too much.

    Args:
        value: mean error less what the line, carried on, expects; dB.
        limit_db: most that luck explains with the line's scatter, if that is normal.
    """

    value: Mean
    limit_db: float


def fit_report_line(
    points: Sequence[Reports], *, within_db: float = math.inf, confidence: float = 0.95
) -> ReportLine | NoEvidence:
    """The line through all axis values at which nearly all trials were reported.

    Args:
        points: one for each axis value.
        within_db: use only this much of the true levels, from the lowest fully reported on.
    Source: least squares with a cluster-robust ("sandwich") covariance, from memory; checked
        against statsmodels.
    """
    full = sorted((p for p in points if p.is_full), key=lambda p: float(p.truth_db.mean()))
    if full:
        lowest = float(full[0].truth_db.mean())
        full = [p for p in full if float(p.truth_db.mean()) <= lowest + within_db]
    if len(full) < FEWEST_VALUES:
        return NoEvidence(
            f"fewer than {FEWEST_VALUES} axis values at which {100 * FULL_SHARE:g} % of the "
            "trials have a report: add values where all is decoded"
        )
    truth = np.concatenate([p.truth_db[p.is_reported] for p in full])
    if float(full[-1].truth_db.mean()) - lowest < LEAST_SPAN_DB:
        return NoEvidence(f"the true levels differ by less than {LEAST_SPAN_DB:g} dB: no slope")
    error = np.concatenate([p.error_db for p in full])
    return _fitted(truth, error, _groups(full), (full, confidence))


def _groups(points: Sequence[Reports]) -> NDArray[np.int64]:
    """Numbers of groups, none shared by two axis values."""
    numbered, first = [], 0
    for point in points:
        numbered.append(first + point.groups)
        first = int(numbered[-1].max()) + 1
    return np.concatenate(numbered)


def _fitted(
    truth: Array, error: Array, groups: NDArray[np.int64], of: tuple[Sequence[Reports], float]
) -> ReportLine:
    points, confidence = of
    at_db = float(truth.mean())
    rows = np.column_stack([np.ones(truth.size), truth - at_db])
    inverse = np.linalg.inv(rows.T @ rows)
    solution = inverse @ (rows.T @ error)
    left = error - rows @ solution
    member = np.unique(groups, return_inverse=True)[1]
    n_groups = int(member.max()) + 1
    scores = np.column_stack([np.bincount(member, weights=left * column) for column in rows.T])
    small = n_groups / (n_groups - 1) * (truth.size - 1) / (truth.size - 2)
    covariance = inverse @ (scores.T @ scores) @ inverse * small
    quantile = float(special.stdtrit(n_groups - 1, 0.5 + confidence / 2.0))

    def estimate(place: int, plus: float) -> Mean:
        value, error = float(solution[place]) + plus, math.sqrt(float(covariance[place, place]))
        ends = value - quantile * error, value + quantile * error
        return Mean(value, Interval(*ends, confidence, "least squares"), error, n_groups - 1)

    values = [point.value for point in points]
    return ReportLine(
        at_db=at_db,
        offset=estimate(0, 0.0),
        slope=estimate(1, 1.0),
        scatter_db=math.sqrt(float(left @ left) / (truth.size - 2)),
        n_trials=truth.size,
        span=(min(values), max(values)),
        covariance=covariance,
    )


def excess_of(point: Reports, line: ReportLine, *, confidence: float = 0.95) -> Excess | NoEvidence:
    """How far the mean error at an axis value lies above the line carried on to it.

    Args:
        point: an axis value at which fewer trials were reported.
        line: fitted next to it, where nearly all were (`within_db`).
    """
    error = mean_of(point.error_db, point.groups, confidence)
    if isinstance(error, NoEvidence):
        return error
    expected, its_error = line.error_at(float(point.truth_db[point.is_reported].mean()))
    standard_error = math.hypot(error.standard_error, its_error)
    n_degrees = min(error.n_degrees, line.offset.n_degrees)
    half = float(special.stdtrit(n_degrees, 0.5 + confidence / 2.0)) * standard_error
    value = error.value - expected
    interval = Interval(value - half, value + half, confidence, "t, beyond the line carried on")
    return Excess(
        Mean(value, interval, standard_error, n_degrees), line.scatter_db * luck(point.share)
    )
