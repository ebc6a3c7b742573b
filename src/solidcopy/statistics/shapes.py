"""The curve shapes: rising from 0 to 1, one half at z = 0.

- probit: cumulative normal.
- logit: logistic.
- outage: exp(−ln 2 · exp(−z)), steep foot and long shoulder. A signal that fades as a whole,
  with Rayleigh amplitude, follows it with a scale of 10/ln 10 = 4.343 dB (FACTS B4, derived:
  P = exp(−10^((T − S)/10))); averaging over several fades makes the scale smaller.
- faded: such an outage, blurred by the receiver's own curve (see `faded`): a family that runs from
  "outage" (no blur) to "probit" (nothing but blur).

All densities are log-concave, so without a lapse the likelihood has one maximum.
"""

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

from solidcopy.statistics.faded import HIGHEST_V, FadedTable

Array = NDArray[np.float64]
Form = Literal["probit", "logit", "outage", "faded"]

_SATURATED = 1e-6


@dataclass(frozen=True, slots=True)
class Shape:
    """One shape as array functions of z (any shape, float64).

    Args:
        evaluate: z -> (F, 1 − F, dF/dz), each exact in its own tail.
        quantile: probability in (0, 1) -> z.
        z_limits: where z is cut off so that no logarithm of 0 arises.
    """

    evaluate: Callable[[Array], tuple[Array, Array, Array]]
    quantile: Callable[[Array], Array]
    z_limits: tuple[float, float]

    def clipped(self, z: Array) -> Array:
        """`z` inside the limits."""
        return np.clip(z, *self.z_limits)

    def z(self, p: float) -> float:
        """z at one probability."""
        return float(self.quantile(np.array(p)))

    @property
    def z_span(self) -> float:
        """Distance in z over which the shape does all its rising (1e-6 to 1 − 1e-6)."""
        return self.z(1.0 - _SATURATED) - self.z(_SATURATED)


def _probit(z: Array) -> tuple[Array, Array, Array]:
    density = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return special.ndtr(z), special.ndtr(-z), density


def _logit(z: Array) -> tuple[Array, Array, Array]:
    below, above = special.expit(z), special.expit(-z)
    return below, above, below * above


def _outage(z: Array) -> tuple[Array, Array, Array]:
    u = math.log(2.0) * np.exp(-z)
    below = np.exp(-u)
    return below, -np.expm1(-u), u * below


def _outage_quantile(p: Array) -> Array:
    quantile: Array = -np.log(-np.log(p) / math.log(2.0))
    return quantile


@functools.cache
def _faded(blur: float) -> Shape:
    table = FadedTable.of(blur)
    half = float(table.quantile(np.array(0.5)))
    return Shape(
        lambda z: table.evaluate(z + half),
        lambda p: table.quantile(p) - half,
        (table.lowest - half, HIGHEST_V - half),
    )


def shape_of(form: Form, blur: float = 0.0) -> Shape:
    """The shape of that name; `blur` is that of "faded". Raises ValueError for another name."""
    match form:
        case "probit":
            return Shape(_probit, special.ndtri, (-36.0, 36.0))
        case "logit":
            return Shape(_logit, special.logit, (-600.0, 600.0))
        case "outage":
            return Shape(_outage, _outage_quantile, (-6.0, 600.0))
        case "faded":
            if blur == 0.0:
                return shape_of("outage")
            return shape_of("probit") if math.isinf(blur) else _faded(blur)
        case _:
            raise ValueError(f'form must be "probit", "logit", "outage" or "faded", not {form!r}')
