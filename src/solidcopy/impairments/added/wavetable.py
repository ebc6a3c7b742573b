"""Lines at multiples of one frequency, all at once: one period in a table, read at any pace."""

import math
from typing import Any, TypeVar

import numpy as np
import scipy.fft
from numpy.typing import NDArray

Number = TypeVar("Number", np.float64, np.complex128)

POINTS_PER_CYCLE = 512
"""Points of the table in one cycle of its highest line: a straight line between them errs by
(2 pi / 512)^2 / 8, 94 dB below that line."""


def one_period(lines: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Sum over k of lines[k] exp(2 pi i k x) for x from 0 to 1, both ends included.

    Args:
        lines: (n_lines,) complex amplitudes at 0, 1, 2... cycles per period.
    Returns: (n_points + 1,), a power of two of points.
    """
    n_points = 1 << math.ceil(math.log2(POINTS_PER_CYCLE * max(lines.size - 1, 1)))
    period = scipy.fft.ifft(lines, n_points, norm="forward")
    return np.append(period, period[0])


def read_period(table: NDArray[Number], cycles: NDArray[np.floating[Any]]) -> NDArray[Number]:
    """The table's curve at places in cycles, (n_samples,), any real numbers; straight between."""
    n_points = table.size - 1
    place = cycles * n_points
    floor = np.floor(place)
    place -= floor
    index = floor.astype(np.int64) & (n_points - 1)
    value: NDArray[Number] = table[index + 1]
    value -= table[index]
    value *= place
    value += table[index]
    return value
