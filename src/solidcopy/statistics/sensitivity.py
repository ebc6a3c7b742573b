"""How single outcomes move a threshold, to first order."""

import math

import numpy as np

from solidcopy.statistics.curve import Curve
from solidcopy.statistics.pairs import PairedTrials
from solidcopy.statistics.shapes import Array

WORST_CONDITION = 1e10
"""Above it the counts leave one of the parameters open."""

FEWEST_MIXED = 0.5
"""A curve that expects less than this (sum of n p (1 − p)) at its own points is a step."""


def threshold_weights(curve: Curve, p: float) -> Array:
    """Movement of the fitted threshold for one decode more at each axis value.

    Args:
        curve: the fit; a lapse on one of its limits counts as fixed.
        p: probability of the threshold, below 1 − lapse.
    Returns: (n_points,) axis units per decode, usually negative; all 0 where the counts leave
        a parameter open, as for a step. A blur counts as fixed.
    Source: gradient of the threshold times the inverse of the information; derived here.
    """
    shape, top = curve.model.shape, 1.0 - curve.lapse
    z = shape.clipped((curve.points.values - curve.midpoint) / curve.scale)
    below, above, density = shape.evaluate(z)
    fitted, missed = top * below, curve.lapse + top * above
    slope = -top * density / curve.scale
    jac = np.column_stack([slope, slope * z, -below])
    ratio = np.array(p / top)
    z_p = shape.quantile(ratio)
    by_lapse = curve.scale * float(ratio / top / shape.evaluate(z_p)[2])
    gradient = np.array([1.0, float(z_p), by_lapse])
    is_free = np.array([True, True, 1e-9 < curve.lapse < curve.model.max_lapse - 1e-9])
    jac, gradient = jac[:, is_free], gradient[is_free]
    if np.sum(curve.points.n_scored * fitted * missed) < FEWEST_MIXED:
        return np.zeros(curve.points.values.size)
    root = jac * np.sqrt(curve.points.n_scored / (fitted * missed))[:, None]
    information = root.T @ root
    scale = np.sqrt(np.maximum(np.diag(information), 1e-300))
    information /= np.outer(scale, scale)
    if np.linalg.cond(information) > WORST_CONDITION:
        return np.zeros(curve.points.values.size)
    moves = np.linalg.solve(information, gradient / scale) / scale
    return np.asarray(jac @ moves / (fitted * missed), np.float64)


def threshold_correlation(paired: PairedTrials, a: Curve, b: Curve, p: float) -> float:
    """Correlation of the two thresholds, from the trials that both sides met.

    A threshold moves by its weight times (outcome − probability), summed over trials; only
    trials scored on both sides add to the covariance. Where trials of both sides share their luck
    in groups, so do different trials of one group: then sums over groups are multiplied instead.

    Returns: in [−1, 1]; 0 if a curve is a step (no weight is defined) or nothing is shared.
    Source: derived here; group sums as in a cluster-robust ("sandwich") covariance, from memory.
    """
    weights = [threshold_weights(curve, p) for curve in (a, b)]
    spread = math.sqrt(_variance(a, weights[0]) * _variance(b, weights[1]))
    if spread == 0.0:
        return 0.0
    # Where trials of one side are independent, others of the group tell nothing about them.
    size = math.lcm(*paired.n_together) if min(paired.n_together) > 1 else 1
    places = [{float(x): i for i, x in enumerate(curve.points.values)} for curve in (a, b)]
    covariance = 0.0
    for point in paired.points:
        if point.n_both == 0:
            continue
        both = np.flatnonzero(point.scored_a & point.scored_b)
        moves = []
        for curve, decoded, own, place in zip(
            (a, b), (point.decoded_a, point.decoded_b), weights, places, strict=True
        ):
            off = decoded[both] - float(curve.probability(np.array(point.value)))
            moves.append(own[place[point.value]] * np.bincount(both // size, weights=off))
        covariance += float(moves[0] @ moves[1])
    return min(1.0, max(-1.0, covariance / spread))


def _variance(curve: Curve, weights: Array) -> float:
    """Variance of the threshold that goes with those weights, groups of trials included."""
    fitted = curve.probability(curve.points.values)
    clustering = curve.points.clustering
    inflation = 1.0 if clustering is None else clustering.inflation
    return inflation * float(np.sum(weights**2 * fitted * (1.0 - fitted) * curve.points.n_scored))
