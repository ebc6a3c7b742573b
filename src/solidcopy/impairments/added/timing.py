"""When impulses come: at random, periodically, or periodically with jitter."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

TimingLaw = Literal["random", "periodic", "jittered"]

N_JITTER_NODES = 129
"""Points at which a mean over the difference of two jitters is taken."""


@dataclass(frozen=True, slots=True)
class Timing:
    """A law of starting times.

    - "random": independent of each other (Poisson); the number in a slot varies.
    - "periodic": exactly every 1 / rate, beginning anywhere in a period.
    - "jittered": periodic, each start moved evenly within ± jitter_s; it does not accumulate.
    """

    law: TimingLaw
    rate_per_s: float
    jitter_s: float = 0.0

    def draw_starts(
        self, generator: np.random.Generator, *, from_s: float, to_s: float
    ) -> NDArray[np.float64]:
        """Starts between two times, (n_pulses,) float64 seconds.

        Ascending, except where jitter makes one overtake the next.
        """
        if self.law == "random":
            n_pulses = generator.poisson(self.rate_per_s * (to_s - from_s))
            return np.sort(generator.uniform(from_s, to_s, n_pulses))
        period_s = 1.0 / self.rate_per_s
        first_s = from_s - self.jitter_s + generator.uniform(0.0, period_s)
        n_periods = math.ceil((to_s + self.jitter_s - first_s) / period_s) + 1
        starts_s = np.asarray(first_s + period_s * np.arange(n_periods), dtype=np.float64)
        if self.law == "jittered":
            starts_s = starts_s + generator.uniform(-self.jitter_s, self.jitter_s, n_periods)
        return starts_s[(starts_s >= from_s) & (starts_s < to_s)]

    def relative_count_spread(self, duration_s: float) -> float:
        """Standard deviation of the number of impulses in a time, over the expected number.

        Source: derived here. Poisson: 1 / sqrt(n). Periodic with a random start: the number is
        one of two neighbours, whose chance is the fraction f of the expected number n, so a
        variance of f (1 - f). Jitter J moves pulses over either end of the time, with chances
        that run evenly from 0 to 1 within ± J: it adds 2 * rate * J / 3, the mean of p (1 - p).
        """
        n_expected = self.rate_per_s * duration_s
        if self.law == "random":
            return 1.0 / math.sqrt(n_expected)
        fraction = n_expected % 1.0
        over_the_ends = 2.0 * self.rate_per_s * self.jitter_s / 3.0
        return math.sqrt(fraction * (1.0 - fraction) + over_the_ends) / n_expected

    def sum_over_successors(
        self, autocorrelation: NDArray[np.float64], *, step_s: float, is_alternating: bool
    ) -> float:
        """Expected sum of the autocorrelation at the distances from one pulse to all later ones.

        Args:
            autocorrelation: (n_lags,) at multiples of `step_s`, zero beyond its end.
            is_alternating: every second pulse is upside down, so its term is taken away.
        Source: derived here. The k-th successor of a Poisson pulse has Erlang's density; these
            add up to the rate, or with alternating signs to -rate exp(-2 rate t).
        """
        lags_s = step_s * np.arange(autocorrelation.size)
        if self.law == "random":
            density = np.full(lags_s.size, self.rate_per_s)
            if is_alternating:
                density *= -np.exp(-2.0 * self.rate_per_s * lags_s)
            return float(np.trapezoid(density * autocorrelation, dx=step_s))
        n_successors = math.floor((lags_s[-1] + 2.0 * self.jitter_s) * self.rate_per_s)
        if n_successors == 0:
            return 0.0
        number = np.arange(1, n_successors + 1)
        moves_s, weights = self._differences()
        distances_s = np.abs(number[:, None] / self.rate_per_s + moves_s[None, :])
        values = np.interp(distances_s, lags_s, autocorrelation, right=0.0) @ weights
        if is_alternating:
            values *= np.where(number % 2 == 1, -1.0, 1.0)
        return float(values.sum())

    def _differences(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Differences of two jitters and their weights: a triangle, from -2 to +2 jitters."""
        if self.law == "periodic":
            return np.zeros(1), np.ones(1)
        share = np.linspace(-1.0, 1.0, N_JITTER_NODES)
        weights = 1.0 - np.abs(share)
        return 2.0 * self.jitter_s * share, weights / weights.sum()
