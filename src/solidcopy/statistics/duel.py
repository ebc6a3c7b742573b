"""Two sides on the same trials: what the pairs say where ordinary intervals would say too much."""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from solidcopy.statistics.comparison import Penalty, Verdict, penalty
from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold
from solidcopy.statistics.interval import clopper_pearson
from solidcopy.statistics.paired_rates import PairedCounts, difference_interval
from solidcopy.statistics.pairs import PairedTrials
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Form

FEW_UNLIKE = 100
"""With fewer unlike pairs than this the correlation of the two thresholds, and so the length of the
joined interval, is known too badly: with 17 on average, equals were told apart in 8 % of 300
simulated duels instead of 5 %."""


def threshold_difference(
    paired: PairedTrials,
    *,
    p: float = 0.5,
    confidence: float = 0.95,
    forms: tuple[Form, Form] = ("probit", "probit"),
) -> Penalty | NoThreshold:
    """As `penalty`, and never shorter than so few unlike pairs allow.

    Two receivers that answered alike in every trial have the same threshold to the last digit;
    their difference is all the same only known as well as the trials can tell. Below `FEW_UNLIKE`
    unlike pairs the interval is therefore joined with that of `shift_by_pairs`. It then leaves out
    zero only where the exact McNemar test agrees.

    Args:
        paired, p, confidence, forms: as for `penalty`.
    """
    found = penalty(paired, p=p, confidence=confidence, form=forms)
    if isinstance(found, NoThreshold):
        return found
    counts = paired_counts(paired)
    if counts.n_unlike >= FEW_UNLIKE:
        return found
    other = shift_by_pairs(paired, counts, confidence=confidence, form=forms[0])
    if other is None:
        return found
    low = min(found.interval.low, other.low)
    high = max(found.interval.high, other.high)
    method = f"{found.interval.method}, joined with the {other.method}"
    interval = Interval(low, high, confidence, method)
    return replace(found, interval=interval, verdict=verdict_of(interval))


def verdict_of(interval: Interval) -> Verdict:
    """Whether an interval of a penalty leaves out zero, and on which side."""
    if interval.low > 0.0:
        return Verdict.B_NEEDS_MORE
    return Verdict.B_NEEDS_LESS if interval.high < 0.0 else Verdict.NOT_SHOWN


def paired_counts(paired: PairedTrials) -> PairedCounts:
    """Decodes of both sides over all axis values; only trials that both sides answered."""
    total = PairedCounts()
    for point in paired.points:
        both = point.scored_a & point.scored_b
        total += PairedCounts.of(point.decoded_a[both], point.decoded_b[both])
    return total


def shift_by_pairs(
    paired: PairedTrials, counts: PairedCounts, *, confidence: float = 0.95, form: Form = "probit"
) -> Interval | None:
    """Which shifts of b against a would cost b a share of decodes that the pairs do not contradict.

    One curve is fitted to both sides together. Moved by d, it loses the share
    Σ n (p(x) − p(x − d)) / Σ n; the interval holds every d whose loss lies in one of two intervals
    of the paired difference: the score interval, which has a width even where no pair is unlike,
    and the exact one given the number of unlike pairs.

    Returns: the interval, positive where b needs more; None where both sides together have no
        curve, or where the axis does not bound the shift.
    Source: derived here; for coverage see tests/statistical/test_duel_coverage.py.
    """
    share = _share_range(counts, confidence)
    curve = _common_curve(paired, form)
    if share is None or curve is None:
        return None
    values = np.array([point.value for point in paired.points])
    n = np.array([point.n_both for point in paired.points], np.float64)

    def gained(shift: float) -> float:
        moved = curve.probability(values - shift) - curve.probability(values)
        return float(n @ moved) / counts.n

    reach = float(np.ptp(values)) + curve.width
    ends = []
    for wanted in reversed(share):
        if not gained(reach) < wanted < gained(-reach):
            return None
        ends.append(optimize.brentq(lambda shift, w=wanted: gained(shift) - w, -reach, reach))
    return Interval(float(ends[0]), float(ends[1]), confidence, "shift by pairs")


def _share_range(counts: PairedCounts, confidence: float) -> tuple[float, float] | None:
    """Ends of the score and of the exact conditional interval, the outermost; None of no pair."""
    score = difference_interval(counts, confidence)
    if isinstance(score, NoEvidence):
        return None
    if not counts.n_unlike:
        return score.low, score.high
    of_unlike = clopper_pearson(counts.n_only_b, counts.n_unlike, confidence)
    scale = counts.n_unlike / counts.n
    low, high = (scale * (2.0 * end - 1.0) for end in (of_unlike.low, of_unlike.high))
    return min(low, score.low), max(high, score.high)


def _common_curve(paired: PairedTrials, form: Form) -> Curve | None:
    a, b = paired.side_a(), paired.side_b()
    both = Points(a.values, a.n_decoded + b.n_decoded, a.n_scored + b.n_scored, a.unit)
    curve = fit_curve(both, form)
    return curve if isinstance(curve, Curve) else None


@dataclass(frozen=True, slots=True)
class Wins:
    """Independent units of evidence that lean to one side.

    Args:
        n_a, n_b: units in which that side decoded more often.
    """

    n_a: int
    n_b: int


def wins(net: NDArray[np.int64]) -> Wins:
    """Units won by each side.

    If both sides are alike, a unit is as likely to lean one way as the other, whatever happens
    inside it: so the exact test of `mcnemar_exact` holds for units that are not single trials, such
    as trials that share a run of fading, or one trial met under several conditions.

    Args:
        net: (n_units,) decodes of b less decodes of a in each unit.
    """
    return Wins(int((net < 0).sum()), int((net > 0).sum()))


def smallest_after_holm(p_values: list[float]) -> float | None:
    """Smallest of several p-values, enlarged for having been picked; None of none.

    Source: S. Holm, 1979 (from memory): for the smallest, Bonferroni's factor.
    """
    return min(1.0, len(p_values) * min(p_values)) if p_values else None


def mean_interval(
    values: NDArray[np.float64], confidence: float = 0.95
) -> tuple[float, Interval] | NoEvidence:
    """Mean of independent values, with Student's interval.

    Args:
        values: (n,) finite.
    Returns: mean and interval; of no width if all values are equal.
    Source: textbook (from memory).
    """
    if values.size < 2:
        return NoEvidence(f"{values.size} trials with a figure on both sides are too few")
    mean = float(values.mean())
    t = float(special.stdtrit(values.size - 1, 0.5 + confidence / 2.0))
    half = t * float(values.std(ddof=1)) / math.sqrt(values.size)
    return mean, Interval(mean - half, mean + half, confidence, "Student's t")


class Loss(StrEnum):
    """What an interval says about a loss that is allowed up to some size."""

    SHOWN = "a larger loss is shown"
    RULED_OUT = "a larger loss is ruled out"
    OPEN = "open"


def judge_loss(found: Interval | NoThreshold | NoEvidence, allowed: float) -> Loss:
    """Whether a loss (positive: worse) beyond `allowed` is shown or ruled out.

    Each of the two has the one-sided risk (1 − confidence) / 2 of being wrong.

    Args:
        found: interval of the loss; or why there is none, with a one-sided limit if known.
        allowed: in the unit of the loss.
    """
    low, high = -math.inf, math.inf
    if isinstance(found, Interval):
        low, high = found.low, found.high
    elif isinstance(found, NoThreshold) and found.limit is not None:
        low = found.limit if found.bound == "above" else low
        high = found.limit if found.bound == "below" else high
    if low > allowed:
        return Loss.SHOWN
    return Loss.RULED_OUT if high <= allowed else Loss.OPEN
