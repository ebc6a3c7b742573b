"""What a receiver reports against what was true, and what selection does to the mean of reports.

A receiver reports a level only for what it decodes. Where it decodes few of the trials, those few
are the ones in which the noise happened to favour it, and their mean report is too high: the mean
of a truncated distribution. So means are given with the share that was reported at all, a line is
fitted only where nearly all was, and what the reports below say too much is shown beside the most
that luck alone explains.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from solidcopy import units
from solidcopy.statistics.evidence import Interval, NoEvidence
from solidcopy.statistics.shapes import Array

FULL_SHARE = 0.95
"""From this share of reported trials on, luck moves a mean by less than 0.11 of the scatter."""

FEWEST_REPORTS = 5
"""Fewer give no mean: an interval from them says next to nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Reports:
    """Answered trials at one axis value.

    Args:
        value: axis value.
        index: (n_trials,) trial indexes, ascending.
        truth_db: (n_trials,) what was true in each trial, finite.
        is_reported: (n_trials,) whether the receiver decoded the message and stated a level.
        reported_db: (n_trials,) that level; of no meaning where nothing was reported.
        n_together: trials in a row that share their luck.
    """

    value: float
    index: NDArray[np.int64]
    truth_db: Array
    is_reported: NDArray[np.bool_]
    reported_db: Array
    n_together: int = 1

    def __post_init__(self) -> None:
        arrays = (self.truth_db, self.is_reported, self.reported_db)
        if any(a.shape != (self.index.size,) for a in arrays):
            raise ValueError("index, truth, flags and reports must be (n_trials,) each")
        if not np.isfinite(self.truth_db).all():
            raise ValueError("every trial needs a finite truth")

    @property
    def n_reported(self) -> int:
        """Trials with a report."""
        return int(self.is_reported.sum())

    @property
    def share(self) -> float:
        """Share of the answered trials that have a report; 0 without a trial."""
        return self.n_reported / self.index.size if self.index.size else 0.0

    @property
    def is_full(self) -> bool:
        """Whether nearly all trials have a report, so that their mean stands for all of them."""
        return self.n_reported >= FEWEST_REPORTS and self.share >= FULL_SHARE

    @property
    def heard_db(self) -> Array:
        """(n_reported,) reports."""
        return self.reported_db[self.is_reported]

    @property
    def error_db(self) -> Array:
        """(n_reported,) report less the truth of its own trial."""
        return self.heard_db - self.truth_db[self.is_reported]

    @property
    def groups(self) -> NDArray[np.int64]:
        """(n_reported,) which group of trials each report belongs to."""
        return self.index[self.is_reported] // self.n_together


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with its interval; `n_degrees` are those of Student's distribution behind it."""

    value: float
    interval: Interval
    standard_error: float
    n_degrees: int


def mean_of(
    values: Array, groups: NDArray[np.int64], confidence: float = 0.95
) -> Mean | NoEvidence:
    """Mean of values that may share their luck in groups.

    With groups of one it is the textbook t interval; with larger ones the sums of whole groups
    are what varies.

    Args:
        values: (n,) in any unit.
        groups: (n,) equal numbers for values that share their luck.
    Source: Student's interval, and its cluster-robust form; from memory, checked against scipy.
    """
    names, member = np.unique(groups, return_inverse=True)
    if values.size < FEWEST_REPORTS or names.size < 2:
        return NoEvidence(f"only {_reports(values.size)}: too few for a mean")
    mean = float(values.mean())
    sums = np.bincount(member, weights=values - mean)
    variance = float(sums @ sums) / values.size**2 * names.size / (names.size - 1)
    method = "Student's t" if names.size == values.size else "Student's t over groups of trials"
    return _mean(mean, math.sqrt(variance), names.size - 1, (confidence, method))


def _mean(value: float, standard_error: float, n_degrees: int, how: tuple[float, str]) -> Mean:
    confidence, method = how
    half = float(special.stdtrit(n_degrees, 0.5 + confidence / 2.0)) * standard_error
    interval = Interval(value - half, value + half, confidence, method)
    return Mean(value, interval, standard_error, n_degrees)


def _reports(n: int) -> str:
    return f"{n} report" + ("" if n == 1 else "s")


def power_mean_of(
    levels_db: Array, groups: NDArray[np.int64], confidence: float = 0.95
) -> Mean | NoEvidence:
    """Mean of the powers behind levels in dB, in dB: above the mean of the dB values.

    Returns: its interval is that of the mean power, carried into dB at its slope.
    Source: derived here; for a normal scatter of s dB the two means differ by 0.115 s^2 dB.
    """
    ratios = np.power(10.0, levels_db / 10.0)
    found = mean_of(ratios, groups, confidence)
    if isinstance(found, NoEvidence):
        return found
    slope_db = 10.0 / math.log(10.0) / found.value
    how = (confidence, f"{found.interval.method} of the powers")
    level_db = units.db_from_ratio(found.value)
    return _mean(level_db, slope_db * found.standard_error, found.n_degrees, how)


def median_of(
    values: Array, groups: NDArray[np.int64], confidence: float = 0.95
) -> tuple[float, Interval] | NoEvidence:
    """Median with the interval between two order statistics; at least the asked confidence.

    Returns: NoEvidence where values share their luck or are too few for two such ends.
    Source: binomial distribution of the number of values below the median, from memory.
    """
    if np.unique(groups).size < values.size:
        return NoEvidence("trials in groups: no interval of a median is given")
    ordered, n = np.sort(values), values.size
    ranks = special.bdtr(np.arange(n // 2), n, 0.5) if n else np.array([])
    outside = np.flatnonzero(ranks <= (1.0 - confidence) / 2.0)
    if not outside.size:
        return NoEvidence(f"only {_reports(n)}: too few for an interval of a median")
    k = int(outside[-1])
    interval = Interval(
        float(ordered[k]), float(ordered[n - 1 - k]), confidence, "order statistics"
    )
    return float(np.median(ordered)), interval


def luck(share: float) -> float:
    """Mean of the best `share` of a normal distribution, in its standard deviations.

    That is the most by which choosing trials can raise the mean of reports with a normal scatter:
    as if the report itself decided what is decoded. A choice by something that goes with the
    report only in part, with correlation r, raises it by r times as much.

    Args:
        share: 0 < share <= 1.
    Source: mean of a truncated normal distribution; from memory, checked against scipy.
    """
    if not 0.0 < share <= 1.0:
        raise ValueError(f"a share lies above 0 and at most at 1, not {share}")
    cut = float(special.ndtri(1.0 - share))
    return math.exp(-0.5 * cut * cut) / math.sqrt(2.0 * math.pi) / share if share < 1.0 else 0.0


def paired_difference(
    pairs: Sequence[tuple[Reports, Reports]], *, is_full_only: bool, confidence: float = 0.95
) -> tuple[int, Mean | NoEvidence]:
    """Report of the second receiver less that of the first, over trials that both reported.

    Both sides then look at the same trials, so neither is judged by luckier ones than the other.
    What luck is left is that of one receiver alone; there is next to none of it where both report
    nearly everything (`is_full_only`).

    Args:
        pairs: first and second receiver at each axis value, of the same recordings.
        is_full_only: only axis values at which both report nearly all trials.
    Returns: number of trials used, and the mean difference.
    """
    differences, groups, n_groups = [], [], 0
    for first, second in pairs:
        if is_full_only and not (first.is_full and second.is_full):
            continue
        shared, at_first, at_second = np.intersect1d(
            first.index, second.index, assume_unique=True, return_indices=True
        )
        both = first.is_reported[at_first] & second.is_reported[at_second]
        differences.append((second.reported_db[at_second] - first.reported_db[at_first])[both])
        groups.append(n_groups + shared[both] // max(first.n_together, second.n_together))
        n_groups = int(groups[-1].max(initial=n_groups)) + 1
    if not differences:
        return 0, NoEvidence("nowhere did both receivers report nearly all trials")
    joined = np.concatenate(differences)
    return joined.size, mean_of(joined, np.concatenate(groups), confidence)
