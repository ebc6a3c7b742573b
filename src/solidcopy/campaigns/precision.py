"""Whether a threshold is known as well as asked, by the same fit as the report's."""

import hashlib
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from solidcopy import __version__
from solidcopy.statistics.clusters import Clustering
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Form
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.trials.curve_shape import CurveShape
from solidcopy.trials.stop_rule import StopRule

CONFIDENCE = 0.95
"""Of the interval whose half-width is asked for."""


@dataclass(frozen=True, slots=True)
class CountsKey:
    """The counts of points, as a key by which what follows from them can be remembered."""

    values: tuple[float, ...]
    n_decoded: tuple[int, ...]
    n_scored: tuple[int, ...]
    clustering: Clustering | None

    @classmethod
    def of(cls, points: Points) -> "CountsKey":
        """The counts."""
        return cls(
            tuple(points.values.tolist()),
            tuple(points.n_decoded.tolist()),
            tuple(points.n_scored.tolist()),
            points.clustering,
        )

    def points(self) -> Points:
        """The points again."""
        return Points(
            np.array(self.values, np.float64),
            np.array(self.n_decoded, np.int64),
            np.array(self.n_scored, np.int64),
            clustering=self.clustering,
        )


def key_of(points: Points, rule: StopRule, shape: CurveShape) -> str:
    """A hash of all that `is_precise` depends on, the program's version included."""
    told = (__version__, CountsKey.of(shape.rising(points)), rule.p, shape.form)
    return hashlib.sha256(repr((*told, rule.threshold_half_width_db)).encode()).hexdigest()


def is_precise(points: Points, rule: StopRule, shape: CurveShape) -> bool:
    """Whether the threshold is known as well as asked; False while there is none.

    Args:
        points: of one curve, with the groups of its trials, if they share their luck.
        rule: asks for a half width.
        shape: of the curve: form and direction with which the report fits it.
    """
    assert rule.threshold_half_width_db is not None
    half_width = _half_width(CountsKey.of(shape.rising(points)), rule.p, shape.form)
    return half_width is not None and half_width <= rule.threshold_half_width_db


@lru_cache(maxsize=4096)
def _half_width(counts: CountsKey, p: float, form: Form) -> float | None:
    """Remembered, as a running campaign asks for the same blocks again and again."""
    threshold = read_threshold(counts.points(), p=p, confidence=CONFIDENCE, form=form)
    return threshold.interval.half_width if isinstance(threshold, Threshold) else None
