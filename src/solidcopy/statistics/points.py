"""Counts along an axis: what a curve is fitted to."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from solidcopy.statistics.clusters import Clustering
from solidcopy.statistics.shapes import Array
from solidcopy.statistics.tally import Tally


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Decode counts at several axis values, kept in rising order of the value.

    Args:
        values: (n_points,) axis values, finite, each once; any order.
        n_decoded, n_scored: (n_points,) whole numbers, 0 <= n_decoded <= n_scored.
        unit: written after an axis value in sentences, e.g. "dB"; never interpreted.
        clustering: where trials in a row share their luck; None: all trials are independent.
    """

    values: Array
    n_decoded: NDArray[np.int64]
    n_scored: NDArray[np.int64]
    unit: str = ""
    clustering: Clustering | None = None

    def __post_init__(self) -> None:
        values = np.asarray(self.values, np.float64)
        counts = [np.asarray(c) for c in (self.n_decoded, self.n_scored)]
        if values.ndim != 1 or any(c.shape != values.shape for c in counts):
            raise ValueError("values, n_decoded and n_scored must be one-dimensional and as long")
        if any(c.size and c.dtype.kind not in "iu" for c in counts):
            raise TypeError("counts must be whole numbers")
        if not np.isfinite(values).all() or np.unique(values).size != values.size:
            raise ValueError("axis values must be finite and each given once")
        if (counts[0] < 0).any() or (counts[0] > counts[1]).any():
            raise ValueError("n_decoded must lie between 0 and n_scored")
        order = np.argsort(values)
        object.__setattr__(self, "values", values[order])
        object.__setattr__(self, "n_decoded", counts[0][order].astype(np.int64))
        object.__setattr__(self, "n_scored", counts[1][order].astype(np.int64))

    @classmethod
    def of(cls, tallies: Mapping[float, Tally], *, unit: str = "") -> "Points":
        """Points from the tally at each axis value."""
        return cls(
            np.array(list(tallies), np.float64),
            np.array([t.n_decoded for t in tallies.values()], np.int64),
            np.array([t.n_scored for t in tallies.values()], np.int64),
            unit,
        )

    def scored(self) -> "Points":
        """Only the points where at least one trial was scored."""
        keep = self.n_scored > 0
        return replace(
            self,
            values=self.values[keep],
            n_decoded=self.n_decoded[keep],
            n_scored=self.n_scored[keep],
        )

    def mirrored(self) -> "Points":
        """The axis turned round: a falling curve rises in the mirror."""
        return replace(self, values=-self.values)

    def label(self, value: float) -> str:
        """An axis value as written in sentences, e.g. "−18.5 dB"."""
        return f"{value:.4g} {self.unit}".strip().replace("-", "−")

    @property
    def share(self) -> Array:
        """(n_points,) decoded share; every point must be scored."""
        if (self.n_scored == 0).any():
            raise ValueError("a point without a scored trial has no share: use scored() first")
        return np.asarray(self.n_decoded / self.n_scored, np.float64)
