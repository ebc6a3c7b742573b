"""Something that is on and off by turns, for times of no fixed length."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class OnOff:
    """On and off for exponentially distributed times."""

    on_s: float
    """Mean time on."""
    off_s: float
    """Mean time off; 0: always on."""

    @property
    def share_on(self) -> float:
        """Expected share of the time."""
        return self.on_s / (self.on_s + self.off_s)

    def draw_switchings(
        self, generator: np.random.Generator, *, from_s: float, to_s: float
    ) -> NDArray[np.float64]:
        """Times at which it turns on, off, on, off, ..., ascending, (even n,).

        The first may lie before `from_s` and the last beyond `to_s`: an exponential time has no
        age, so what is on at the beginning turns off after a whole one.
        """
        if self.off_s == 0.0:
            return np.array([from_s, to_s])
        first_s = from_s
        if generator.random() >= self.share_on:
            first_s += generator.exponential(self.off_s)
        n_pairs = 8 + math.ceil((to_s - from_s) / (self.on_s + self.off_s))
        switchings_s = np.array([first_s])
        while switchings_s[-1] < to_s:
            on_s = generator.exponential(self.on_s, n_pairs)
            off_s = generator.exponential(self.off_s, n_pairs)
            more_s = np.cumsum(np.column_stack([on_s, off_s]).ravel()) + switchings_s[-1]
            switchings_s = np.concatenate([switchings_s, more_s])
        # After whole pairs the last entry is one more turning on.
        return switchings_s[:-1] if switchings_s.size % 2 == 1 else switchings_s

    def relative_spread(self, duration_s: float) -> float:
        """Standard deviation of the time on within a time, over the expected time on.

        Source: derived here: it forgets as exp(-lag / m) with 1 / m = 1 / on + 1 / off, so the
            variance of the share is 2 s (1 - s) m / T (1 - m / T (1 - exp(-T / m))).
        """
        if self.off_s == 0.0:
            return 0.0
        memory = self.on_s * self.off_s / (self.on_s + self.off_s) / duration_s
        of_mean = 2.0 * memory * (1.0 - memory * (1.0 - math.exp(-1.0 / memory)))
        return math.sqrt((1.0 - self.share_on) / self.share_on * of_mean)
