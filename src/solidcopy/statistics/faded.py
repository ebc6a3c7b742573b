"""The share of messages that survive fading: an outage, blurred by the receiver's own curve.

A signal that fades as a whole, with Rayleigh amplitude, once for each message, at a mean SNR of S
dB: its power is x times the mean, x exponential. Of messages at a steady SNR the receiver decodes
the share Phi((SNR − T) / s). So with c = 10 / ln 10, blur = s / c and v = (S − T) / c

    P = E[Phi((S + c ln x − T) / s)] = E[exp(−exp(blur · t − v))],  t normal

(FACTS B4; the second form follows by exchanging the two chances, derived here). Without blur it is
exp(−10^((T − S)/10)). A message that meets several fades averages over them: c becomes smaller and
the curve less skewed. So c and the blur are left to the counts; towards an infinite blur the curve
becomes a cumulative normal.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

Array = NDArray[np.float64]

BLURS = (0.0, 0.5, 0.8, 1.1, 1.5, 2.2, math.inf)
"""Blurs of a fit. The skewness of the curve falls by about equal steps: 1.14, 0.92, 0.70, 0.50,
0.31, 0.15, 0."""

HIGHEST_V = 600.0
LAST_KNOT, STEP = 40.0, 0.05
_NORMAL = np.linspace(-9.0, 9.0, 241)
"""Places of the mean over t: a trapezoidal sum, exact for so smooth an integrand."""


def evaluate_faded(v: Array, blur: float) -> tuple[Array, Array, Array]:
    """Logarithms of P, of 1 − P and of dP/dv at v (n,); each exact in its own tail."""
    weight = -0.5 * _NORMAL**2
    weight -= special.logsumexp(weight)
    log_u = blur * _NORMAL - v[:, None]
    u = np.exp(log_u)
    below = special.logsumexp(weight - u, axis=1)
    above = special.logsumexp(weight + np.log(-np.expm1(-u)), axis=1)
    density = special.logsumexp(weight + log_u - u, axis=1)
    return below, above, density


@dataclass(frozen=True, slots=True, eq=False)
class FadedTable:
    """P and 1 − P of one blur as cubic pieces of their logarithms.

    Args:
        lowest: smallest v.
        pieces: (2, 4, n_pieces) coefficients of log P and log (1 − P) over each step of v.
    """

    lowest: float
    pieces: Array

    @classmethod
    def of(cls, blur: float) -> "FadedTable":
        """The table of one blur; values and slopes at the knots are exact."""
        lowest = -6.0 - 4.0 * blur
        v = np.arange(lowest, LAST_KNOT + STEP / 2.0, STEP)
        below, above, density = evaluate_faded(v, blur)
        slopes = STEP * np.exp(density - below), -STEP * np.exp(density - above)
        pieces = [_cubic_pieces(*known) for known in zip((below, above), slopes, strict=True)]
        return cls(lowest, np.stack(pieces))

    def evaluate(self, v: Array) -> tuple[Array, Array, Array]:
        """P, 1 − P and dP/dv at v >= lowest (any shape), to 1e-6 of each."""
        place = (np.minimum(v, LAST_KNOT) - self.lowest) / STEP
        piece = np.minimum(place.astype(np.intp), self.pieces.shape[2] - 1)
        u = place - piece
        low, low_1, low_2, low_3 = (part.take(piece) for part in self.pieces[0])
        high, high_1, high_2, high_3 = (part.take(piece) for part in self.pieces[1])
        below = np.exp(low + u * (low_1 + u * (low_2 + u * low_3)))
        # Behind the last knot 1 − P falls as exp(−v).
        beyond = np.maximum(v - LAST_KNOT, 0.0)
        above = np.exp(high + u * (high_1 + u * (high_2 + u * high_3)) - beyond)
        # Each logarithm's slope is the better one where its probability is the smaller.
        density = np.where(
            below < above,
            below * (low_1 + u * (2.0 * low_2 + u * 3.0 * low_3)) / STEP,
            -above * (high_1 + u * (2.0 * high_2 + u * 3.0 * high_3)) / STEP,
        )
        return below, above, density

    def quantile(self, p: Array) -> Array:
        """v at probabilities in (0, 1), to 1e-6 where P lies between 1e-6 and 1 − 1e-6."""
        p = np.asarray(p, np.float64)
        knots = self.lowest + STEP * np.arange(self.pieces.shape[2])
        logit = np.log(p) - np.log1p(-p)
        v: Array = np.interp(logit, self.pieces[0, 0] - self.pieces[1, 0], knots)
        for _ in range(3):
            below, above, density = self.evaluate(v)
            off = np.log(below) - np.log(above) - logit
            v = v - off * below * above / np.maximum(density, 1e-300)
            v = np.clip(v, self.lowest, HIGHEST_V)
        return v


def _cubic_pieces(value: Array, slope: Array) -> Array:
    """(4, n - 1) cubic coefficients between n knots, from values and slopes (a step is 1)."""
    rise = np.diff(value)
    first, last = slope[:-1], slope[1:]
    return np.stack([value[:-1], first, 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise])
