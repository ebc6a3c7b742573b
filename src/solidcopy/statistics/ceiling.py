"""The likelihood that no rising curve through a point can exceed: a cheap way to refuse points."""

from dataclasses import dataclass

import numpy as np
from scipy import optimize

from solidcopy.statistics.points import Points
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.shapes import Array


@dataclass(frozen=True, slots=True, eq=False)
class Ceiling:
    """The likeliest rising shares on either side of every place among P axis values.

    Args:
        points: the counts, all scored.
        below: (P + 1, P); row i holds, for its first i values, the likeliest rising shares of
            these alone.
        above: (P + 1, P); row i holds them for the values from the i-th on.
    """

    points: Points
    below: Array
    above: Array

    @classmethod
    def of(cls, points: Points) -> "Ceiling":
        """The ceiling of those counts."""
        n_values = points.values.size
        below, above = np.zeros((2, n_values + 1, n_values))
        for place in range(n_values + 1):
            below[place, :place] = _rising(points, slice(0, place))
            above[place, place:] = _rising(points, slice(place, n_values))
        return cls(points, below, above)

    def through(self, x: Array, p: Array) -> Array:
        """Largest log-likelihood of any rising curve through each (x, p), (R,) each.

        Left of x such a curve stays below p and right of it above p, so the likeliest rising
        shares of either side are cut off at p.

        Source: isotonic regression, whose bounded form is the free one cut off; from memory.
        """
        values = self.points.values
        first, after = (np.searchsorted(values, x, side=side) for side in ("left", "right"))
        place = np.arange(values.size)
        shares = np.broadcast_to(p[:, None], (x.size, values.size))
        low, high = np.minimum(self.below[first], shares), np.maximum(self.above[after], shares)
        cut = np.where(place < first[:, None], low, shares)
        cut = np.where(place >= after[:, None], high, cut)
        n, k = (
            np.broadcast_to(part.astype(float), cut.shape)
            for part in (self.points.n_scored, self.points.n_decoded)
        )
        return Counts(n, k).log_likelihood(cut, 1.0 - cut)


def _rising(points: Points, part: slice) -> Array:
    """The likeliest rising shares of some neighbouring values."""
    if part.start == part.stop:
        return np.zeros(0)
    share, weight = points.share[part], points.n_scored[part].astype(float)
    return np.asarray(optimize.isotonic_regression(share, weights=weight).x, np.float64)
