"""Trials in groups that share their luck: how much less they say than independent ones."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Clustering:
    """What groups do to the variance of counts.

    Args:
        inflation: variance over that of independent trials, at least 1.
        n_degrees: degrees of freedom with which it is known.
    """

    inflation: float
    n_degrees: float


def clustering_of(series: Iterable[tuple[Flags, Flags]], n_together: int) -> Clustering:
    """Inflation of the variance by groups of trials in a row, from the outcomes themselves.

    The variance of group sums about the share of their own axis value, over the binomial one; all
    axis values together, each weighed by its binomial variance (as a curve's fit weighs them).

    Args:
        series: decoded and scored flags, (n_trials,) each, in order of the trial index, one pair
            for each axis value.
        n_together: trials in a row that share their luck; the last group may be shorter.
    Returns: inflation of 1 with one degree of freedom where no axis value has two groups and both
        outcomes: nothing is known of it then, and intervals become as long as they can.
    Source: cluster-robust ("sandwich") variance, from memory; degrees of freedom after
        Satterthwaite, from memory; coverage is tested
        (tests/statistical/test_statistics_groups.py).
    """
    binomial, robust, shares = 0.0, 0.0, []
    for decoded, scored in series:
        group = np.arange(decoded.size) // n_together
        n_groups = np.unique(group[scored]).size  # a side may be padded with trials not run
        n = int(scored.sum())
        if n_groups < 2 or n < 2:
            continue
        p = float(decoded.sum()) / n
        sums = np.bincount(group, weights=np.where(scored, decoded - p, 0.0))
        expected = n * p * (1.0 - p)
        robust += float(np.square(sums).sum()) * n_groups / (n_groups - 1)
        binomial += expected * n / (n - 1)
        shares.append((expected, n_groups - 1))
    total = sum(expected for expected, _ in shares)
    if total == 0.0:
        return Clustering(1.0, 1.0)
    n_degrees = total**2 / sum(expected**2 / degrees for expected, degrees in shares)
    return Clustering(max(1.0, robust / binomial), n_degrees)


def clustering_of_rare(series: Iterable[tuple[Flags, Flags]], n_together: int) -> Clustering:
    """As `clustering_of`, for events so rare that perhaps none was seen.

    Without an event nothing shows how much groups matter: then each counts as one trial, the
    strongest effect possible.
    """
    rows = list(series)
    if any(happened.any() for happened, _ in rows):
        return clustering_of(rows, n_together)
    n_groups = sum(np.unique(np.flatnonzero(scored) // n_together).size for _, scored in rows)
    n = sum(int(scored.sum()) for _, scored in rows)
    return Clustering(n / n_groups, math.inf) if n else Clustering(1.0, 1.0)


def effective_trials(n: float, clustering: Clustering, confidence: float) -> float:
    """Independent trials that would say as much as `n` trials in groups.

    Divided by the inflation, and by the square of Student's quantile over the normal one, as the
    inflation itself is only estimated.

    Source: E. L. Korn and B. I. Graubard, "Confidence intervals for proportions with small expected
    number of positive counts estimated from survey data", Survey Methodology 24, 1998; from memory.
    """
    tail = 0.5 + confidence / 2.0
    t = special.stdtrit(clustering.n_degrees, tail)
    return n / clustering.inflation * float(special.ndtri(tail) / t) ** 2
