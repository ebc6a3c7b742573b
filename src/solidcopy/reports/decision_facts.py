"""Who decodes more of two sides, as plain values."""

from dataclasses import dataclass
from typing import Literal

from solidcopy.statistics.evidence import Interval, NoEvidence


@dataclass(frozen=True, slots=True)
class DecisionFacts:
    """Which of two sides decodes more, by the rule that `until = "decided"` stops by; it may be
    looked at as often as one likes (`statistics.sequential`)."""

    compares: Literal["condition", "receiver"]
    first: str
    second: str
    within: str
    """What both share: the receiver or the condition."""
    n_pairs: int
    """Trials that both answered, all axis values together."""
    n_per_point: int
    """Trials at the axis value that has most of them."""
    n_only_first: int
    n_only_second: int
    """Of these pairs: decoded by one side alone. Where trials share their luck: groups, each won by
    the side that alone decoded more of its trials."""
    n_together: int
    """Trials in such a group; 1: single trials."""
    better: Literal["first", "second"] | None
    risk: float
    """That a side is ever called better that is not, over all looks."""
    p_value: float
    """Smallest risk at which the trials so far decide; holds at any look."""
    share_first: Interval | NoEvidence
    """Share of the first among the trials that one side alone decoded; holds at all looks."""
    most_per_point: int
    is_final: bool
    """Whether the campaign asks for no further trial of the two: decided, or the limit reached."""
