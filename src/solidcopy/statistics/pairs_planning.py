"""How many pairs of trials show which of two sides decodes more."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from solidcopy.statistics.pairs import mcnemar_exact
from solidcopy.statistics.planning import AssumedCurve
from solidcopy.statistics.shapes import Array


@dataclass(frozen=True, slots=True)
class Unlike:
    """Of all trials that two sides meet, averaged over the axis: who alone decodes.

    Args:
        p_only_a, p_only_b: share of trials that this side decodes and the other one misses.
    """

    p_only_a: float
    p_only_b: float

    @classmethod
    def of(cls, a: AssumedCurve, b: AssumedCurve, values: Array, correlation: float) -> "Unlike":
        """From both curves and the correlation of their outcomes at an axis value.

        Where the curves lie so far apart that they cannot correlate so much, as much as possible.
        Source: covariance of two yes-no outcomes; derived here.
        """
        p_a, p_b = a.probability(values), b.probability(values)
        spread = np.sqrt(p_a * (1.0 - p_a) * p_b * (1.0 - p_b))
        both = np.clip(p_a * p_b + correlation * spread, 0.0, np.minimum(p_a, p_b))
        return cls(float(np.mean(p_a - both)), float(np.mean(p_b - both)))

    @property
    def share(self) -> float:
        """Of trials that one side alone decodes."""
        return self.p_only_a + self.p_only_b

    @property
    def share_a(self) -> float:
        """Of these: decoded by a."""
        return self.p_only_a / self.share if self.share > 0.0 else 0.5


def mcnemar_power(n: int, unlike: Unlike, *, risk: float = 0.05) -> float:
    """Probability that the exact McNemar test of n pairs calls the side better that is.

    Source: both counts summed exactly; held against simulation in the tests.
    """
    better = max(unlike.share_a, 1.0 - unlike.share_a)
    most = _most(n, unlike.share)
    weights = special.bdtr(np.arange(most + 1), n, unlike.share)
    power = 0.0
    for n_unlike, weight in enumerate(np.diff(weights, prepend=0.0)):
        least = _least_significant(n_unlike, risk)
        if weight > 0.0 and least <= n_unlike:
            power += float(weight) * float(special.bdtrc(least - 1, n_unlike, better))
    return power


def _most(n: int, p: float) -> int:
    """More of n events hardly ever happen (six standard deviations)."""
    return min(n, math.ceil(n * p + 6.0 * math.sqrt(n * p * (1.0 - p)) + 6.0))


def _least_significant(n: int, risk: float) -> int:
    """Least count of n that the exact test calls too many; n + 1 if even n is not."""
    low, high = n // 2, n + 1
    while high - low > 1:
        middle = (low + high) // 2
        if mcnemar_exact(middle, n - middle) <= risk:
            high = middle
        else:
            low = middle
    return high


def pairs_for_power(unlike: Unlike, *, power: float, risk: float = 0.05) -> int | None:
    """Pairs with which the exact McNemar test finds the better side with that power.

    Returns: None where neither side is better, or a million pairs are too few.
    """
    if unlike.p_only_a == unlike.p_only_b:
        return None
    high = 8
    while mcnemar_power(high, unlike, risk=risk) < power:
        high *= 2
        if high > 1_000_000:
            return None
    low = high // 2
    while high - low > max(1, low // 200):
        middle = (low + high) // 2
        if mcnemar_power(middle, unlike, risk=risk) >= power:
            high = middle
        else:
            low = middle
    return high
