"""Paired trials: the same transmissions, met by two receivers or under two conditions."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import special

from solidcopy.statistics.clusters import Flags, clustering_of
from solidcopy.statistics.points import Points

MOST_STEPS = 50_000_000
"""Differences times their sum up to which all choices of signs are counted: some 0.2 s."""


@dataclass(frozen=True, slots=True, eq=False)
class PairedPoint:
    """Outcomes of side a and side b at one axis value, aligned by trial index.

    Args:
        value: axis value.
        decoded_a, decoded_b: (n_trials,) whether that side decoded the message.
        scored_a, scored_b: (n_trials,) False where that side failed or was not run. A value
            that only one side was tested at has the other side unscored throughout.
    """

    value: float
    decoded_a: Flags
    decoded_b: Flags
    scored_a: Flags
    scored_b: Flags

    def __post_init__(self) -> None:
        flags = (self.decoded_a, self.decoded_b, self.scored_a, self.scored_b)
        if any(f.dtype != np.bool_ or f.shape != (flags[0].size,) for f in flags):
            raise TypeError("outcomes must be (n_trials,) bool and equally long")
        if (self.decoded_a & ~self.scored_a).any() or (self.decoded_b & ~self.scored_b).any():
            raise ValueError("a trial without a score cannot be decoded")

    @property
    def n_both(self) -> int:
        """Trials scored on both sides."""
        return int((self.scored_a & self.scored_b).sum())

    @property
    def n_only_a(self) -> int:
        """Of the trials scored on both sides: decoded by a, missed by b."""
        return int((self.scored_b & self.decoded_a & ~self.decoded_b).sum())

    @property
    def n_only_b(self) -> int:
        """Of the trials scored on both sides: decoded by b, missed by a."""
        return int((self.scored_a & self.decoded_b & ~self.decoded_a).sum())


@dataclass(frozen=True, slots=True, eq=False)
class PairedTrials:
    """Outcomes of both sides along an axis.

    Args:
        points: each axis value once; any order.
        unit: written after an axis value in sentences.
        n_together: of side a and b, trials in a row that share their luck.
    """

    points: tuple[PairedPoint, ...]
    unit: str = ""
    n_together: tuple[int, int] = (1, 1)

    def side_a(self) -> Points:
        """Counts of side a at every axis value, unscored ones included."""
        rows = [(p.value, p.decoded_a, p.scored_a) for p in self.points]
        return self._side(rows, self.n_together[0])

    def side_b(self) -> Points:
        """Counts of side b at every axis value, unscored ones included."""
        rows = [(p.value, p.decoded_b, p.scored_b) for p in self.points]
        return self._side(rows, self.n_together[1])

    @property
    def n_pairs(self) -> int:
        """Trials scored on both sides, all axis values together."""
        return sum(point.n_both for point in self.points)

    def net_by_group(self) -> NDArray[np.int64]:
        """(n_groups,) decodes of b less decodes of a in each group of trials that share their luck.

        Only trials scored on both sides count; groups without one are left out.
        """
        size = math.lcm(*self.n_together)
        nets = [
            net_by_group(p.decoded_a, p.decoded_b, p.scored_a & p.scored_b, size)
            for p in self.points
        ]
        return np.concatenate([np.zeros(0, np.int64), *nets])

    def mirrored(self) -> "PairedTrials":
        """The axis turned round: falling curves rise in the mirror."""
        return replace(self, points=tuple(replace(p, value=-p.value) for p in self.points))

    def _side(self, rows: list[tuple[float, Flags, Flags]], n_together: int) -> Points:
        clustering = None
        if n_together > 1:
            clustering = clustering_of([row[1:] for row in rows], n_together)
        return Points(
            np.array([value for value, _, _ in rows], np.float64),
            np.array([int(decoded.sum()) for _, decoded, _ in rows], np.int64),
            np.array([int(scored.sum()) for _, _, scored in rows], np.int64),
            self.unit,
            clustering,
        )


def net_by_group(decoded_a: Flags, decoded_b: Flags, both: Flags, size: int) -> NDArray[np.int64]:
    """(n_groups,) decodes of b less decodes of a, of trials in a row that share their luck.

    Args:
        decoded_a, decoded_b: (n_trials,) of one axis value, by trial index.
        both: (n_trials,) scored on both sides; groups without one are left out.
        size: trials in a group.
    """
    there = np.flatnonzero(both)
    lead = decoded_b[there].astype(np.int64) - decoded_a[there]
    _, group = np.unique(there // size, return_inverse=True)
    return np.bincount(group, weights=lead).astype(np.int64)


def equal_shares_p(paired: PairedTrials) -> float | None:
    """Two-sided p-value that two sides decode equally often, all axis values together.

    Returns: of the exact McNemar test; where trials share their luck, of `sign_flip` on groups.
        None where no trial was scored on both sides.
    """
    if not paired.n_pairs:
        return None
    if paired.n_together == (1, 1):
        n_a, n_b = (
            sum(getattr(point, f"n_only_{side}") for point in paired.points) for side in "ab"
        )
        return mcnemar_exact(n_a, n_b)
    return sign_flip(paired.net_by_group())


def sign_flip(net: NDArray[np.int64]) -> float:
    """Two-sided p-value that the sum of independent differences is only chance.

    Each difference could as well have had the other sign: the share of all 2^n choices of signs
    whose sum is at least as far from 0. Of differences of ±1 it is the exact McNemar test.

    Args:
        net: (n,) whole numbers, e.g. from `PairedTrials.net_by_group`.
    Exactness: all signs counted, up to `MOST_STEPS`; with more, the normal distribution of the same
        variance with a correction for its steps (within 1 % of the exact p there, tested).
    Source: randomisation test of R. A. Fisher, 1935, on the group sums of V. L. Durkalski and
        others, "Analysis of clustered matched-pair data", Statistics in Medicine 22, 2003; both
        from memory. Rates of false alarm: tests/statistical/test_statistics_groups.py.
    """
    farther, as_far = _as_far_or_farther(net)
    return min(1.0, farther + as_far)


def sign_flip_mid_p(net: NDArray[np.int64]) -> float:
    """As `sign_flip`, less half the probability of a sum just as far from 0: less strict on
    average. Of differences of ±1 it is McNemar's mid-p.
    """
    if not net.sum():
        return 1.0
    farther, as_far = _as_far_or_farther(net)
    return min(1.0, farther + 0.5 * as_far)


def _as_far_or_farther(net: NDArray[np.int64]) -> tuple[float, float]:
    """Probability that signs at random give a sum farther from 0 than this one, and just as far."""
    sizes, seen = np.abs(net[net != 0]), abs(int(net.sum()))
    if not sizes.size:
        return 0.0, 1.0
    total = int(sizes.sum())
    if sizes.size * total > MOST_STEPS:
        return _about_as_far(sizes, seen)
    chance = np.zeros(2 * total + 1)
    chance[total] = 1.0
    for size in sizes.tolist():
        # No wrapping: what has been reached so far lies within the sizes added so far.
        chance = 0.5 * (np.roll(chance, size) + np.roll(chance, -size))
    distance = np.abs(np.arange(-total, total + 1))
    return float(chance[distance > seen].sum()), float(chance[distance == seen].sum())


def _about_as_far(sizes: NDArray[np.int64], seen: int) -> tuple[float, float]:
    """The same by the normal distribution; sums lie twice the common divisor apart."""
    half_step, spread = int(np.gcd.reduce(sizes)), math.sqrt(2.0 * float(np.square(sizes).sum()))
    farther = math.erfc((seen + half_step) / spread)
    return farther, math.erfc(max(0, seen - half_step) / spread) - farther


def mcnemar_exact(b: int, c: int) -> float:
    """Two-sided exact p-value that two sides decode equally well at one axis value.

    Args:
        b: trials that only the first side decoded.
        c: trials that only the second side decoded.
    Returns: p-value; 1 if no trial tells the sides apart. It cannot fall below 0.05 with
        fewer than six discordant trials.
    Source: binomial test of b among b + c, from memory; checked against statsmodels.
    """
    if b < 0 or c < 0:
        raise ValueError(f"counts cannot be negative: {b}, {c}")
    return min(1.0, 2.0 * float(special.bdtr(min(b, c), b + c, 0.5)))


def mcnemar_mid_p(b: int, c: int) -> float:
    """As `mcnemar_exact`, less half the probability of what was seen: less strict on average.

    Source: from memory; checked against the digits of FACTS E5.
    """
    if b < 0 or c < 0:
        raise ValueError(f"counts cannot be negative: {b}, {c}")
    smaller, n = min(b, c), b + c
    p_seen = math.comb(n, smaller) / (1 << n)
    return min(1.0, 2.0 * float(special.bdtr(smaller, n, 0.5)) - p_seen)
