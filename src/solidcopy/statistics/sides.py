"""Two sides of a comparison brought together: trial against trial, or as strangers."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from solidcopy.statistics.clusters import Flags
from solidcopy.statistics.pairs import PairedPoint, PairedTrials

_NONE = (np.zeros(0, np.bool_), np.zeros(0, np.bool_))


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """Outcomes of one curve.

    Args:
        by_value: axis value -> (decoded, scored), (n_trials,) bool each, by trial index.
        unit: of the axis.
        n_together: trials in a row that share their luck.
    """

    by_value: Mapping[float, tuple[Flags, Flags]]
    unit: str = ""
    n_together: int = 1


def in_pairs(a: Side, b: Side) -> PairedTrials:
    """Both sides aligned by axis value and trial index: they met the same chance."""
    return _joined(a, b, lambda _: 0)


def apart(a: Side, b: Side) -> PairedTrials:
    """Both sides with no trial in common, as they met different chance."""

    def start_of_b(n_a: int) -> int:
        # Groups of side b must stay whole.
        return -(-n_a // b.n_together) * b.n_together

    return _joined(a, b, start_of_b)


def _joined(a: Side, b: Side, start_of_b: Callable[[int], int]) -> PairedTrials:
    points = []
    for value in sorted({*a.by_value, *b.by_value}):
        flags_a, flags_b = (side.by_value.get(value, _NONE) for side in (a, b))
        start = start_of_b(flags_a[0].size)
        n = max(flags_a[0].size, start + flags_b[0].size)
        decoded_a, scored_a = (_placed(flags, 0, n) for flags in flags_a)
        decoded_b, scored_b = (_placed(flags, start, n) for flags in flags_b)
        points.append(PairedPoint(value, decoded_a, decoded_b, scored_a, scored_b))
    return PairedTrials(tuple(points), a.unit, (a.n_together, b.n_together))


def _placed(flags: Flags, start: int, n: int) -> Flags:
    placed = np.zeros(n, np.bool_)
    placed[start : start + flags.size] = flags
    return placed
