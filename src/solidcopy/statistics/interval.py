"""Confidence intervals of a probability and of a rate, from counts.

Sources: the formulas are textbook ones, from memory; checked against statsmodels, scipy and the
digits of FACTS E5 (tests/reference/test_statistics_interval.py).
"""

import math

from scipy import special

from solidcopy.statistics.clusters import Clustering, effective_trials
from solidcopy.statistics.evidence import Interval


def wilson(
    k: int, n: int, confidence: float = 0.95, *, clustering: Clustering | None = None
) -> Interval:
    """Score interval of a probability: every p that a normal test would not reject.

    Its coverage averages the nominal one and is never far from it; at k = 0 or n one end is
    exactly 0 or 1.

    Args:
        k: number of events, 0 <= k <= n.
        n: number of trials, n >= 1.
        confidence: two-sided.
        clustering: where trials share their luck in groups; the interval is then that of the
            independent trials that say as much.
    Raises: ValueError for impossible counts.
    Source: E. B. Wilson, 1927 (from memory); for groups see `effective_trials`.
    """
    _check_counts(k, n, confidence)
    z = float(special.ndtri(0.5 + confidence / 2.0))
    n_alone = _alone(n, clustering, confidence)
    k_alone = k * n_alone / n
    centre = (k_alone + z * z / 2.0) / (n_alone + z * z)
    half = z / (n_alone + z * z) * math.sqrt(k_alone * (n - k) / n + z * z / 4.0)
    low = 0.0 if k == 0 else max(0.0, centre - half)
    high = 1.0 if k == n else min(1.0, centre + half)
    return Interval(low, high, confidence, _named("Wilson score", clustering))


def clopper_pearson(
    k: int, n: int, confidence: float = 0.95, *, clustering: Clustering | None = None
) -> Interval:
    """Exact two-sided interval of a probability: covers at least `confidence`, always.

    Args:
        k, n, confidence, clustering: as for `wilson`; with groups it is exact no longer.
    Raises: ValueError for impossible counts.
    Source: C. J. Clopper and E. S. Pearson, 1934 (from memory): beta quantiles; for groups see
        `effective_trials`.
    """
    _check_counts(k, n, confidence)
    tail = (1.0 - confidence) / 2.0
    n_alone = _alone(n, clustering, confidence)
    hits, misses = k * n_alone / n, (n - k) * n_alone / n
    low = 0.0 if k == 0 else float(special.betaincinv(hits, misses + 1.0, tail))
    high = 1.0 if k == n else float(special.betaincinv(hits + 1.0, misses, 1.0 - tail))
    name = "exact (Clopper–Pearson)" if clustering is None else "Clopper–Pearson"
    return Interval(low, high, confidence, _named(name, clustering))


def _alone(n: int, clustering: Clustering | None, confidence: float) -> float:
    """Independent trials that say as much."""
    return float(n) if clustering is None else effective_trials(n, clustering, confidence)


def _named(method: str, clustering: Clustering | None) -> str:
    return method if clustering is None else f"{method}, groups of trials"


def upper_bound_for_none(n: int, confidence: float = 0.95) -> float:
    """Largest probability still likely after no event in `n` trials (one-sided, exact).

    About 3/n at 95 %. The two-sided exact interval ends higher: say which one is printed.

    Source: (1 − p)^n = 1 − confidence; derived here.
    """
    _check_counts(0, n, confidence)
    return -math.expm1(math.log1p(-confidence) / n)


def rate_interval(n_events: int, exposure: float, confidence: float = 0.95) -> Interval:
    """Exact two-sided interval of a Poisson rate, in events per unit of exposure.

    Args:
        n_events: number of events, >= 0; several may fall in one trial.
        exposure: what was watched, > 0, e.g. the number of slots.
        confidence: two-sided.
    Raises: ValueError for impossible counts.
    Source: F. Garwood, 1936 (from memory): gamma quantiles.
    """
    if n_events < 0 or not exposure > 0.0 or not 0.0 < confidence < 1.0:
        raise ValueError(f"impossible: {n_events} events in {exposure} at {confidence}")
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if n_events == 0 else float(special.gammaincinv(n_events, tail))
    high = float(special.gammaincinv(n_events + 1, 1.0 - tail))
    return Interval(low / exposure, high / exposure, confidence, "exact Poisson (Garwood)")


def _check_counts(k: int, n: int, confidence: float) -> None:
    if not 0 <= k <= n or n < 1:
        raise ValueError(f"impossible counts: {k} of {n}")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence}")
