"""Repeats in slow fading, read from runs of trials that met one stretch of it slot after slot.

A campaign with `trials_together` makes such runs: the trials of a run are slots in a row on one
path. Whether the second attempt gets through after the first was lost is then read, not supposed.
Both directions of an exchange are taken to meet the same fading (the path serves both ways) and the
same mean SNR.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.statistics.clusters import Flags, clustering_of
from solidcopy.statistics.points import Points
from solidcopy.translate.repeats import TURN_SLOTS, slots_of_attempts

Slots = NDArray[np.int64]
_Rule = Callable[[Flags], Flags]


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Outcomes of trials in runs, by axis value.

    Args:
        by_value: axis value -> (decoded, scored), (n_trials,) each, by trial index.
        n_together: trials in a run.
        unit: of the axis.
    """

    by_value: Mapping[float, tuple[Flags, Flags]]
    n_together: int
    unit: str = ""

    @property
    def most_attempts(self) -> int:
        """As many of one station fit into a run."""
        return (self.n_together + 1) // TURN_SLOTS

    def attempts(self, n_attempts: int) -> Points:
        """How often one of `n_attempts` got through, from every slot of each run at which they may
        begin; counts of windows, which share their run's luck.

        Raises: ValueError if the runs are too short.
        """
        n_slots = slots_of_attempts(n_attempts)
        return self._windows(
            n_slots, lambda decoded: np.logical_or.reduce(decoded[..., ::TURN_SLOTS], axis=-1)
        )

    def exchange(self, n_messages: int, n_slots: int) -> Points:
        """How often an exchange was over within `n_slots`, as of `attempts`."""
        return self._windows(n_slots, lambda decoded: slots_taken(decoded, n_messages) <= n_slots)

    def _windows(self, n_slots: int, succeeds: _Rule) -> Points:
        if not 1 <= n_slots <= self.n_together:
            raise ValueError(f"runs of {self.n_together} slots hold no window of {n_slots}")
        n_starts = self.n_together - n_slots + 1
        series, values = [], sorted(self.by_value)
        for value in values:
            decoded, scored = (self._in_runs(flags) for flags in self.by_value[value])
            windows = np.lib.stride_tricks.sliding_window_view(decoded, n_slots, axis=1)
            whole = np.lib.stride_tricks.sliding_window_view(scored, n_slots, axis=1).all(axis=-1)
            series.append(((succeeds(windows) & whole).ravel(), whole.ravel()))
        return Points(
            np.array(values, np.float64),
            np.array([int(decoded.sum()) for decoded, _ in series], np.int64),
            np.array([int(scored.sum()) for _, scored in series], np.int64),
            self.unit,
            clustering_of(series, n_starts),
        )

    def _in_runs(self, flags: Flags) -> Flags:
        """(n_runs, n_together); a last run that is not whole is left out."""
        n_runs = flags.size // self.n_together
        return flags[: n_runs * self.n_together].reshape(n_runs, self.n_together)


def slots_taken(decoded: Flags, n_messages: int) -> Slots:
    """Slots that an exchange takes when its first message is first sent in slot 0.

    Args:
        decoded: (..., n_slots) whether a transmission in that slot gets through.
        n_messages: by turns, the first sent in even slots.
    Returns: (...,) slots; n_slots + 1 where it is not over by then.
    """
    n_slots = decoded.shape[-1]
    through = np.zeros(decoded.shape[:-1], np.int64)
    taken = np.full(decoded.shape[:-1], n_slots + 1, np.int64)
    for slot in range(n_slots):
        is_turn = (through % TURN_SLOTS == slot % TURN_SLOTS) & (through < n_messages)
        through += is_turn & decoded[..., slot]
        taken = np.where((through == n_messages) & (taken > n_slots), slot + 1, taken)
    return taken


def fading_left(spread_hz: float, gap_s: float) -> float:
    """Correlation of a fading power after a gap: exp(−(πBτ)²), with a Gaussian spread B (2σ).

    Source: the square of the autocorrelation in FACTS B2.
    """
    return math.exp(-((math.pi * spread_hz * gap_s) ** 2))
