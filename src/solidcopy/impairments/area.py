"""Rectangles of time and frequency, by which a disturbance says where it lies in a slot.

They are for showing, and alter no sample.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MOST_AREAS = 400
"""More than a person can tell apart in a picture of one slot."""
MOST_ON = 0.7
"""Who is on for a larger share of the slot is as good as always on."""


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle of time in the slot and audio frequency."""

    from_s: float
    to_s: float
    low_hz: float
    high_hz: float


Areas = tuple[Area, ...]
Spans = Sequence[tuple[float, float]] | NDArray[np.float64]
"""(n, 2) from and to."""


def joined(spans: Spans) -> NDArray[np.float64]:
    """(n, 2) ascending and apart: those that overlap or touch become one."""
    ordered = np.asarray(spans, np.float64).reshape(-1, 2)
    ordered = ordered[np.argsort(ordered[:, 0], kind="stable")]
    if ordered.size == 0:
        return ordered
    reached = np.maximum.accumulate(ordered[:, 1])
    is_first = np.ones(reached.size, np.bool_)
    is_first[1:] = ordered[1:, 0] > reached[:-1]
    firsts = np.flatnonzero(is_first)
    lasts = np.append(firsts[1:], reached.size) - 1
    return np.stack([ordered[firsts, 0], reached[lasts]], axis=1)


def during(spans_s: Spans, band_hz: tuple[float, float], *, slot_s: float) -> Areas | None:
    """One band at several times.

    Returns: None, for "all the time", where the times fill most of the slot or are too many.
    """
    clipped = np.clip(np.asarray(spans_s, np.float64).reshape(-1, 2), 0.0, slot_s)
    times = joined(clipped[clipped[:, 1] > clipped[:, 0]])
    if times.shape[0] > MOST_AREAS or np.diff(times).sum() > MOST_ON * slot_s:
        return None
    return tuple(Area(start, stop, *band_hz) for start, stop in times.tolist())


def lines(lines_hz: Iterable[float], half_width_hz: float, *, slot_s: float) -> Areas | None:
    """Lines that are there all the time; None where they run together or are too many."""
    spans = np.array([(line - half_width_hz, line + half_width_hz) for line in lines_hz])
    if spans.shape[0] > MOST_AREAS or joined(spans).shape[0] < spans.shape[0]:
        return None
    return tuple(Area(0.0, slot_s, low, high) for low, high in spans.tolist())
