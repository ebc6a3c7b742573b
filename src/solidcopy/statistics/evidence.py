"""What a measurement says about a number: an interval, or the reason why there is none."""

import math
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Interval:
    """A confidence interval that names how it was made.

    Args:
        low, high: finite, low <= high; the unit is the caller's.
        confidence: share of intervals, made this way, that hold the truth; 0 < confidence < 1.
        method: name of the method, for the reader.
    """

    low: float
    high: float
    confidence: float
    method: str

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low) and math.isfinite(self.high) and self.low <= self.high):
            raise ValueError(f"not an interval: {self.low} to {self.high}")
        if not 0.0 < self.confidence < 1.0:
            raise ValueError(f"confidence must lie between 0 and 1, not {self.confidence}")

    @property
    def half_width(self) -> float:
        """Half the distance between the ends."""
        return (self.high - self.low) / 2.0

    def holds(self, number: float) -> bool:
        """Whether `number` lies inside, ends included."""
        return self.low <= number <= self.high


@dataclass(frozen=True, slots=True)
class NoEvidence:
    """Nothing was measured that could answer; `reason` is a sentence for the user."""

    reason: str


@dataclass(frozen=True, slots=True)
class NoThreshold:
    """Why a threshold cannot be given, and what the counts say about it all the same.

    Args:
        reason: a sentence for the user: what was seen and what to do.
        bound: "above" if the threshold lies above `limit`, "below" if below; None: unknown.
        limit: the axis value of that one-sided statement, at the confidence asked for or more.
    """

    reason: str
    bound: Literal["above", "below"] | None = None
    limit: float | None = None
