"""What is fitted, and the axis in the units of the fit."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from solidcopy.statistics.faded import BLURS
from solidcopy.statistics.shapes import Array, Form, Shape, shape_of

CountArray = NDArray[np.int64] | NDArray[np.float64]

MAX_LAPSE = 0.1
"""Default upper bound of the lapse."""


@dataclass(frozen=True, slots=True)
class CurveModel:
    """What is fitted: the shape's name and the largest lapse allowed (0 fixes it at 0).

    "faded" has a shape with a parameter of its own, the blur: its `members` have one blur each,
    and the likeliest of them is the fit.
    """

    form: Form = "probit"
    max_lapse: float = MAX_LAPSE
    blur: float | None = None
    """Of one member of "faded"."""

    def __post_init__(self) -> None:
        shape_of(self.form, self.blur or 0.0)
        if not 0.0 <= self.max_lapse < 1.0:
            raise ValueError(f"max_lapse must lie in [0, 1), not {self.max_lapse}")

    @property
    def shape(self) -> Shape:
        """The shape's functions."""
        if self.form == "faded" and self.blur is None:
            raise ValueError("only the members of this model have a shape")
        return shape_of(self.form, self.blur or 0.0)

    @property
    def members(self) -> "tuple[CurveModel, ...]":
        """Models of one shape each; most are their own only member."""
        if self.form != "faded" or self.blur is not None:
            return (self,)
        return tuple(replace(self, blur=blur) for blur in BLURS)

    @property
    def family(self) -> "CurveModel":
        """The model whose member this is."""
        return replace(self, blur=None)


@dataclass(frozen=True, slots=True, eq=False)
class FittingAxis:
    """The axis in fitting units: u = (x − centre) / half_span, slopes in (0, max_slope]."""

    u: Array
    centre: float
    half_span: float
    max_slope: float

    @classmethod
    def of(cls, values: Array, shape: Shape) -> "FittingAxis":
        """The axis of those values: (P,), strictly rising, P >= 2."""
        centre = float(values[0] + values[-1]) / 2.0
        half_span = float(values[-1] - values[0]) / 2.0
        smallest_gap = float(np.diff(values).min())
        return cls(
            (values - centre) / half_span,
            centre,
            half_span,
            shape.z_span * half_span / smallest_gap,
        )
