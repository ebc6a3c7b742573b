"""When a curve has enough trials.

Decisions look at whole blocks of trial indexes only: the first n trials of every point of a
curve, all of them in the journal. So they depend on what the journal holds and on nothing else;
neither the number of workers nor an interruption nor quick trials can move them.

Precision is judged after 50 trials a point, and then each time when at least a tenth more has
been added, in whole blocks of 50. Fewer looks cost little work and keep small the bias that
stopping at a lucky moment brings (it makes intervals a little too short).
"""

from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np

from solidcopy.statistics.points import Points
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.trials.plan import StopRule

BLOCK_TRIALS = 50
"""Trials of one point in a block; also the order of work: blocks are run one after another."""

CONFIDENCE = 0.95
"""Of the interval whose half-width is asked for."""


def looks(at_most: int) -> Iterator[int]:
    """Numbers of trials at a point after which precision is judged; the last is `at_most`."""
    n = BLOCK_TRIALS
    while n < at_most:
        yield n
        n_blocks_more = max(1, -(-n // (10 * BLOCK_TRIALS)))
        n += n_blocks_more * BLOCK_TRIALS
    yield at_most


def n_asked(rule: StopRule, points_of_first: Callable[[int], Points | None]) -> int:
    """How many trials at each point of one curve the rule asks for, as far as can be known.

    Args:
        rule: fixed number, or precision.
        points_of_first: n -> counts of the first n trials of every point, or None if some of
            them are not in the journal yet.
    Returns: trials per point. The curve is finished when it has them all and a second call
        gives the same number.
    """
    if rule.trials_per_point is not None:
        return rule.trials_per_point
    for n in looks(rule.at_most):
        points = points_of_first(n)
        if points is None or is_precise(points, rule):
            return n
    return rule.at_most


def is_precise(points: Points, rule: StopRule) -> bool:
    """Whether the threshold is known as well as asked; False while there is none."""
    assert rule.threshold_half_width_db is not None
    half_width = _half_width(
        tuple(points.values.tolist()),
        tuple(points.n_decoded.tolist()),
        tuple(points.n_scored.tolist()),
        rule.p,
    )
    return half_width is not None and half_width <= rule.threshold_half_width_db


@lru_cache(maxsize=4096)
def _half_width(
    values: tuple[float, ...], n_decoded: tuple[int, ...], n_scored: tuple[int, ...], p: float
) -> float | None:
    """Remembered, as a running campaign asks for the same blocks again and again."""
    points = Points(
        np.array(values, np.float64), np.array(n_decoded, np.int64), np.array(n_scored, np.int64)
    )
    threshold = read_threshold(points, p=p, confidence=CONFIDENCE)
    return threshold.interval.half_width if isinstance(threshold, Threshold) else None
