"""Which of two sides decodes more, judged as often as one likes while the trials come in.

Only trials that one side alone decoded tell the two apart. If neither is the better one, each of
these is as likely to be a's as b's, whatever the axis value and whatever came before. So

    E_a = mean over theta > 1/2 of  theta^a (1 − theta)^b / (1/2)^(a + b)

(a, b: trials that only a, only b decoded) is a fair game's capital, or less, as long as a is not
better; and the chance that such a capital *ever* reaches 1/r is at most r (J. Ville, 1939). The
mean runs over a Beta density, so E_a has a closed form (H. Robbins, 1970). Each direction is given
half of the risk.

Boundaries that spend the risk over planned looks would decide a little sooner, but want the number
of trials fixed beforehand in discordant pairs, which nobody knows, and end when it is reached. This
rule may be looked at after every trial, stopped for any reason and gone on with.

Sources: Ville, Robbins: from memory; the rest derived here. False decisions are summed exactly in
the tests, and simulated with whole campaigns (tests/statistical/test_sequential_errors.py).
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from solidcopy.statistics.evidence import Interval, NoEvidence
from solidcopy.statistics.pairs import PairedPoint, PairedTrials

Array = NDArray[np.float64]

CONCENTRATION = 2.0
"""Both parameters of the Beta density. Within 8 % of the best of 0.5 to 10 in mean number of trials
at true shares of 0.6 to 0.9 (measured by `decision_odds`)."""

RISK = 0.05


class Lead(StrEnum):
    """What has been shown so far."""

    A_BETTER = "a decodes more"
    B_BETTER = "b decodes more"
    OPEN = "not decided"


@dataclass(frozen=True, slots=True)
class Decision:
    """Judgement of the trials so far; it may be made anew after every trial.

    Args:
        n_only_a, n_only_b: trials (of trials together: groups) that only that side won.
        lead: side shown to be better.
        risk: chance that a side that is not better is ever called so, at any look.
        p_value: smallest risk at which the trials seen decide; holds at any look.
        share_a: interval of a's share of the trials that one side alone decoded, which holds at
            all looks at once with confidence 1 − risk if that share is one number; it leaves out
            1/2 exactly if decided. (Along an axis the share varies: then a mean, roughly.)
    """

    n_only_a: int
    n_only_b: int
    lead: Lead
    risk: float
    p_value: float
    share_a: Interval | NoEvidence


def decide(n_only_a: int, n_only_b: int, *, risk: float = RISK) -> Decision:
    """Whether trials that only one side decoded show which side is better.

    Args:
        n_only_a, n_only_b: of trials scored on both sides, all axis values together: decoded by
            that side only.
        risk: 0 < risk < 1, of calling any side better that is not, over all looks.
    Returns: the decision; once decided, stop: a later look may be open again.
    Raises: ValueError for impossible numbers.
    """
    if min(n_only_a, n_only_b) < 0 or not 0.0 < risk < 1.0:
        raise ValueError(f"impossible: {n_only_a}, {n_only_b}, risk {risk}")
    log_a = log_capital(n_only_a, n_only_b, 0.5)
    log_b = log_capital(n_only_b, n_only_a, 0.5)
    needed = math.log(2.0 / risk)
    lead = Lead.A_BETTER if log_a >= needed else Lead.OPEN
    if log_b >= needed:
        lead = Lead.B_BETTER
    p_value = min(1.0, 2.0 * math.exp(-max(log_a, log_b)))
    return Decision(n_only_a, n_only_b, lead, risk, p_value, _share(n_only_a, n_only_b, risk))


def log_capital(n_for: int, n_against: int, share: float) -> float:
    """Logarithm of the capital won by betting that a side's share is larger than `share`.

    Args:
        n_for, n_against: trials that the side won and lost.
        share: in (0, 1), the largest share of the hypothesis bet against.
    Returns: its exponential is ever 1/r or more with probability at most r, if no trial is won
        with a greater probability than `share`.
    Source: Beta density above `share`, normalised there; derived here.
    """
    c = CONCENTRATION
    after = special.betaln(n_for + c, n_against + c) - special.betaln(c, c)
    above = _log_above(n_for + c, n_against + c, share) - _log_above(c, c, share)
    return float(after + above - special.xlogy(n_for, share) - special.xlog1py(n_against, -share))


def _log_above(p: float, q: float, x: float) -> float:
    """Logarithm of a Beta distribution's mass above x, also where the mass is tiny."""
    mass = float(special.betaincc(p, q, x))
    if mass > 1e-280:
        return math.log(mass)
    # Far in the tail the mass sits at x: density times 1 / (rate at which it falls).
    fall = (p + q - 2.0) * x - (p - 1.0)
    log_density = (p - 1.0) * math.log(x) + (q - 1.0) * math.log1p(-x) - special.betaln(p, q)
    return float(log_density + math.log(x * (1.0 - x) / fall))


def _share(n_a: int, n_b: int, risk: float) -> Interval | NoEvidence:
    if n_a + n_b == 0:
        return NoEvidence("no trial told the two sides apart")
    low, high = _lowest(n_a, n_b, risk / 2.0), 1.0 - _lowest(n_b, n_a, risk / 2.0)
    return Interval(low, high, 1.0 - risk, "betting capital, holds at all looks")


def _lowest(n_for: int, n_against: int, risk: float) -> float:
    """Smallest share that the bets do not rule out."""
    if n_for == 0:
        return 0.0
    needed, smallest = math.log(1.0 / risk), 1e-12

    def excess(share: float) -> float:
        return log_capital(n_for, n_against, share) - needed

    seen = min(n_for / (n_for + n_against), 1.0 - 1e-12)
    return float(optimize.brentq(excess, smallest, seen, xtol=1e-12))


def count_discordant(trials: PairedTrials | PairedPoint, n_together: int = 1) -> tuple[int, int]:
    """Trials that only a, and only b, decoded; both scored.

    Where trials in a row share their luck, a group counts once, for the side that won more of its
    trials alone: trials of one group are no independent witnesses.

    Args:
        trials: one axis value, or all.
        n_together: of a single point; the whole brings its own.
    """
    if isinstance(trials, PairedTrials):
        n_row = math.lcm(*trials.n_together)
        counts = [count_discordant(point, n_row) for point in trials.points]
        return sum(a for a, _ in counts), sum(b for _, b in counts)
    if n_together == 1:
        return trials.n_only_a, trials.n_only_b
    both = trials.scored_a & trials.scored_b
    lead = (trials.decoded_a.astype(np.int64) - trials.decoded_b) * both
    groups = np.bincount(np.arange(lead.size) // n_together, weights=lead)
    return int((groups > 0).sum()), int((groups < 0).sum())


@dataclass(frozen=True, slots=True, eq=False)
class DecisionOdds:
    """How trials that one side alone decodes will decide, summed exactly.

    Args:
        p_a, p_b: (n,) probability that a, or b, has been called better after 1 ... n of them, if
            each of them is looked at.
    """

    p_a: Array
    p_b: Array

    @property
    def mean_n(self) -> float:
        """Mean number looked at, ended by the decision or after all n."""
        open_before = 1.0 - np.concatenate([[0.0], (self.p_a + self.p_b)[:-1]])
        return float(open_before.sum())


def decision_odds(share_a: float, n_most: int, *, risk: float = RISK) -> DecisionOdds:
    """Probability of each decision, if a wins each discordant trial with probability `share_a`.

    Args:
        share_a: in [0, 1].
        n_most: discordant trials looked at, >= 1.
    Source: forward recursion over the counts, exact; derived here.
    """
    if not 0.0 <= share_a <= 1.0 or n_most < 1:
        raise ValueError(f"impossible: share {share_a}, {n_most} trials")
    is_open, lost_a, lost_b = np.ones(1), np.zeros(n_most), np.zeros(n_most)
    for n in range(1, n_most + 1):
        grown = np.zeros(n + 1)
        grown[1:] += share_a * is_open
        grown[:-1] += (1.0 - share_a) * is_open
        least = least_to_decide(n, risk=risk)
        if least <= n:
            lost_a[n - 1], lost_b[n - 1] = grown[least:].sum(), grown[: n - least + 1].sum()
            grown[least:] = 0.0
            grown[: n - least + 1] = 0.0
        is_open = grown
    return DecisionOdds(np.cumsum(lost_a), np.cumsum(lost_b))


def least_to_decide(n: int, *, risk: float = RISK) -> int:
    """Of n trials that one side alone decoded: how many one side must have to be called better.

    Returns: n + 1 where even all of them are too few.
    """
    needed, low, high = math.log(2.0 / risk), n // 2, n + 1
    while high - low > 1:
        middle = (low + high) // 2
        if log_capital(middle, n - middle, 0.5) >= needed:
            high = middle
        else:
            low = middle
    return high
