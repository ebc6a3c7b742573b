"""Two shares measured on the same trials: counts of pairs, and the interval of their difference."""

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from solidcopy.statistics.evidence import Interval, NoEvidence

Flags = NDArray[np.bool_]

BESIDE = 1e-9
"""Distance from the found difference at which a search begins."""


@dataclass(frozen=True, slots=True)
class PairedCounts:
    """How often an event came about on both sides of a pair, on one, or on neither."""

    n_both: int = 0
    n_only_a: int = 0
    n_only_b: int = 0
    n_neither: int = 0

    def __post_init__(self) -> None:
        if any(getattr(self, field.name) < 0 for field in fields(self)):
            raise ValueError(f"counts cannot be negative: {self}")

    def __add__(self, other: "PairedCounts") -> "PairedCounts":
        return PairedCounts(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    @classmethod
    def of(cls, a: Flags, b: Flags) -> "PairedCounts":
        """Of two rows of flags, (n,) each, aligned."""
        only_a, only_b = int((a & ~b).sum()), int((b & ~a).sum())
        return cls(int((a & b).sum()), only_a, only_b, int((~a & ~b).sum()))

    @property
    def n(self) -> int:
        """Pairs."""
        return self.n_both + self.n_only_a + self.n_only_b + self.n_neither

    @property
    def n_unlike(self) -> int:
        """Pairs that tell the sides apart."""
        return self.n_only_a + self.n_only_b

    @property
    def n_a(self) -> int:
        """Events on side a."""
        return self.n_both + self.n_only_a

    @property
    def n_b(self) -> int:
        """Events on side b."""
        return self.n_both + self.n_only_b

    def swapped(self) -> "PairedCounts":
        """The same with a and b exchanged."""
        return PairedCounts(self.n_both, self.n_only_b, self.n_only_a, self.n_neither)

    @property
    def difference(self) -> float | NoEvidence:
        """Share of b less share of a."""
        if not self.n:
            return NoEvidence("no trial was answered by both sides")
        return (self.n_only_b - self.n_only_a) / self.n


def difference_interval(counts: PairedCounts, confidence: float = 0.95) -> Interval | NoEvidence:
    """Score interval of the difference (b less a) of two paired shares.

    It holds every difference that a score test, with the variance that belongs to that very
    difference, would not reject. It stays sound for few unlike pairs and does not shrink to nothing
    when there are none: then it is ± z² / (n + z²).

    Args:
        counts: of pairs.
        confidence: two-sided.
    Source: T. Tango, "Equivalence test and confidence interval for the difference in proportions
        for the paired-sample design", Statistics in Medicine 17 (1998) 891–908 (formula from
        memory; checked against a direct search for the constrained maximum, and for coverage).
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence}")
    found = counts.difference
    if isinstance(found, NoEvidence):
        return found
    z = float(special.ndtri(0.5 + confidence / 2.0))

    def excess(difference: float, sign: float) -> float:
        spread = math.sqrt(counts.n * _variance(counts, difference))
        return counts.n * (found - difference) - sign * z * spread

    low, high = -1.0, 1.0
    # Where no pair is unlike, the variance at the found difference is 0: start beside it.
    if found - BESIDE > -1.0:
        low = float(optimize.brentq(excess, -1.0, found - BESIDE, args=(1.0,), xtol=1e-12))
    if found + BESIDE < 1.0:
        high = float(optimize.brentq(excess, found + BESIDE, 1.0, args=(-1.0,), xtol=1e-12))
    return Interval(min(low, found), max(high, found), confidence, "paired score (Tango)")


def _variance(counts: PairedCounts, difference: float) -> float:
    """Variance of one pair's difference, at the likeliest shares that differ by `difference`."""
    n, up, down = counts.n, counts.n_only_b, counts.n_only_a
    linear = -up - down + (2 * n - up + down) * difference
    constant = -down * difference * (1.0 - difference)
    root = math.sqrt(max(0.0, linear * linear - 8.0 * n * constant))
    p_down = (root - linear) / (4.0 * n)
    return max(0.0, 2.0 * p_down + difference * (1.0 - difference))
