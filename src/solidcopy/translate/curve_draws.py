"""Curves that a campaign's counts do not contradict, drawn at random: what carries the uncertainty
of a curve into whatever is worked out from it.

Each curve is drawn with a chance proportional to its likelihood, over midpoints, logarithms of the
scale and lapses that are all as probable beforehand; the likelihood of trials in groups is weakened
by the inflation of their variance, as it is for intervals. Drawn in two rounds: a coarse one over
all that the axis can tell apart, and a fine one where the first found anything.
"""

from dataclasses import dataclass

import numpy as np

from solidcopy.statistics.clusters import effective_trials
from solidcopy.statistics.curve import Curve
from solidcopy.statistics.model import CurveModel, FittingAxis
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.shapes import Array

CONFIDENCE = 0.95
N_DRAWS = 300
N_TRIED = 8000
"""Curves tried in each round, for each shape of the family."""
STEEPER = 4.0
"""Curves may be so many times steeper than fitted ones: a true curve may be, and its threshold then
lies anywhere in the gap."""
LEAST_WEIGHT = 1e-5
"""Of the likeliest; the fine round leaves out where all are less likely."""


@dataclass(frozen=True, slots=True, eq=False)
class CurveDraws:
    """Curves of one condition, a row for each.

    Args:
        members: shapes of the family.
        member: (n_draws,) place of each curve's shape.
        midpoint, scale, lapse: (n_draws,) as of `Curve`.
        tested: lowest and highest axis value with trials; beyond them a curve is extrapolated.
    """

    members: tuple[CurveModel, ...]
    member: np.typing.NDArray[np.intp]
    midpoint: Array
    scale: Array
    lapse: Array
    tested: tuple[float, float]

    @property
    def n_draws(self) -> int:
        """Number of curves."""
        return self.midpoint.size

    def probability(self, x: Array) -> Array:
        """Chance at axis values: row i of (n_draws, m) on curve i; (n_draws, m) back."""
        z = (x - self.midpoint[:, None]) / self.scale[:, None]
        p = np.empty_like(z)
        for place, member in enumerate(self.members):
            rows = self.member == place
            if rows.any():
                p[rows] = member.shape.evaluate(member.shape.clipped(z[rows]))[0]
        return (1.0 - self.lapse[:, None]) * p


def draw_curves(curve: Curve, generator: np.random.Generator, n_draws: int = N_DRAWS) -> CurveDraws:
    """Curves drawn by their likelihood.

    Args:
        curve: as fitted; its points and its family count.
        generator: of all draws.
        n_draws: curves.
    Source: Bayes' rule with flat priors, from memory; the spread is held against the profile
        likelihood in the tests.
    """
    members = curve.model.family.members
    tried = [_Tried.of(curve, member, generator) for member in members]
    best = max(float(one.log_weight.max()) for one in tried)
    log_weight = np.concatenate([one.log_weight + one.log_volume for one in tried])
    log_weight -= best
    weight = np.exp(log_weight - log_weight.max())
    rows = generator.choice(weight.size, n_draws, p=weight / weight.sum())
    theta = np.concatenate([one.theta for one in tried])[rows]
    values = curve.points.values
    return CurveDraws(
        members=members,
        member=rows // N_TRIED,
        midpoint=theta[:, 0],
        scale=np.exp(theta[:, 1]),
        lapse=theta[:, 2],
        tested=(float(values[0]), float(values[-1])),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Tried:
    """Curves of one shape: midpoint, log scale and lapse (N_TRIED, 3), evenly in a box."""

    theta: Array
    log_weight: Array
    log_volume: float

    @classmethod
    def of(cls, curve: Curve, member: CurveModel, generator: np.random.Generator) -> "_Tried":
        axis = FittingAxis.of(curve.points.values, member.shape)
        least = np.log(axis.half_span / axis.max_slope / STEEPER)
        low = np.array([axis.centre - 2.0 * axis.half_span, least, 0.0])
        high = np.array([axis.centre + 2.0 * axis.half_span, np.log(4.0 * axis.half_span), 0.0])
        high[2] = member.max_lapse
        for _ in range(2):
            theta = low + (high - low) * generator.random((N_TRIED, 3))
            log_weight = _log_weight(curve, member, theta)
            volume = float(np.log(np.maximum(high - low, 1e-12)).sum())
            # The next box: what is likely in this one, and a margin.
            kept = theta[log_weight > log_weight.max() + np.log(LEAST_WEIGHT)]
            margin = 0.25 * np.ptp(kept, axis=0) + 0.02 * (high - low)
            low = np.maximum(low, kept.min(axis=0) - margin)
            high = np.minimum(high, kept.max(axis=0) + margin)
        return cls(theta, log_weight, volume)


def _log_weight(curve: Curve, member: CurveModel, theta: Array) -> Array:
    """Log-likelihood of each curve, weakened where trials share their luck."""
    points, shape = curve.points, member.shape
    z = (points.values - theta[:, :1]) / np.exp(theta[:, 1:2])
    below, above, _ = shape.evaluate(shape.clipped(z))
    lapse = theta[:, 2:]
    size = z.shape
    counts = Counts(
        np.broadcast_to(points.n_scored.astype(float), size),
        np.broadcast_to(points.n_decoded.astype(float), size),
    )
    reached = counts.log_likelihood((1.0 - lapse) * below, lapse + (1.0 - lapse) * above)
    return reached * _share_that_counts(curve)


def _share_that_counts(curve: Curve) -> float:
    """Independent trials that say as much as one of these."""
    clustering = curve.points.clustering
    return 1.0 if clustering is None else effective_trials(1.0, clustering, CONFIDENCE)
