"""Clipping: samples that stand at the recording's own highest or lowest value, and in what runs.

Full scale need not be reached: a limiter before the sound card, or a file made quieter later,
leaves flat tops below it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.signals.waveform import Samples

NEAR = 0.03
"""Samples this share of the extreme below it are compared with those at the extreme..."""
NEAR_STEPS = 8
"""...and so many steps of the words, where those are coarser."""
CROWDED = 0.6
"""Clipped, if so many times as many stand at the extreme as near it. A sine rounded to words
gives 0.32 at most; Gaussian noise clipped at 5 sigma 0.9, at 3 sigma 3. Derived here."""
MIN_CLIPPED = 3
MIN_RUN = 2
"""At least one run of so many: noise that is wide-band seldom stays there for two samples..."""
MANY = 5
"""...so that a few single ones count, too."""
MIN_PERIODIC_RUN = 3
"""A tone whose period is a whole number of samples meets its own peak again and again."""
N_BINS = 8
"""Of what lies near the extreme, one below the other."""
SPIKE = 1.5
"""Clipped as well, if so many times as many stand at the extreme as in the bin below it, while the
bins thin out towards it: noise of coarse words, where what is near spans much of the sound. (Those
of an unclipped sine crowd towards its peak.) Derived here."""
SPIKE_SPREADS = 4.0
"""And if chance does not explain it."""
N_TIMES = 12
APART_S = 0.05
"""Times that are kept lie so far apart: one pulse may be clipped in many runs."""


@dataclass(frozen=True, slots=True)
class Clipping:
    """Samples at one or both ends of a channel's range."""

    n_samples: int
    n_runs: int
    longest_samples: int
    starts: tuple[int, ...]
    """Samples at which the first runs begin, at least 0.05 s apart."""


class FlatTop:
    """The upper end of one channel; feed it with the samples turned over for the lower end."""

    def __init__(self, step: float, sample_rate_hz: int) -> None:
        """Nothing was seen yet.

        Args:
            step: distance of neighbouring values at the end of the range; 0 for floats.
            sample_rate_hz: of the sound.
        """
        self._step = step
        self._n_apart = round(APART_S * sample_rate_hz)
        self._forget(-np.inf)

    def _forget(self, highest: float) -> None:
        """Begin anew with a higher end: what was counted was not the end of the range."""
        self.highest = highest
        self._near = highest - max(NEAR * highest, NEAR_STEPS * self._step)
        self._width = max((highest - self._near) / N_BINS, self._step)
        self._bins = np.zeros(N_BINS + 1, np.int64)
        self._n_at = 0
        self._n_runs = 0
        self._longest = 0
        self._starts: list[int] = []
        self._open_run = 0
        """Length of a run that reaches the end of the last block."""

    def add(self, samples: Samples, start: int, highest: float) -> None:
        """Take in a block that begins at sample `start` and whose largest value is known."""
        if highest > self.highest:
            self._forget(highest)
        if highest >= self._near:
            below = (self.highest - samples[samples >= self._near]) / self._width
            # What stands at the extreme has bin 0 for itself.
            places = np.minimum(np.ceil(below - 1e-6), N_BINS).astype(np.int64)
            self._bins += np.bincount(places, minlength=N_BINS + 1)
        if highest < self.highest:
            self._open_run = 0
            return
        at = np.flatnonzero(samples == self.highest)
        self._n_at += at.size
        first = np.flatnonzero(np.diff(at, prepend=-2) != 1)
        lengths = np.diff(first, append=at.size)
        begins = at[first]
        if begins[0] == 0 and self._open_run:
            lengths[0] += self._open_run
            begins = begins[1:]
        self._n_runs += begins.size
        self._longest = max(self._longest, int(lengths.max()))
        self._keep_times(start + begins)
        self._open_run = int(lengths[-1]) if at[-1] == samples.size - 1 else 0

    def _keep_times(self, starts: NDArray[np.int64]) -> None:
        for place in starts.tolist():
            if len(self._starts) == N_TIMES:
                return
            if not self._starts or place - self._starts[-1] >= self._n_apart:
                self._starts.append(place)

    def clipping(self, *, is_periodic: bool = False) -> Clipping | None:
        """What stands at the end of the range, if that is more than a sound's own peak.

        Args:
            is_periodic: the sound repeats itself sample by sample.
        """
        is_crowded = self._n_at > CROWDED * (int(self._bins.sum()) - self._n_at)
        if self._n_at >= MANY and not is_periodic:
            is_crowded |= self._is_spike()
        has_runs = self._longest >= (MIN_PERIODIC_RUN if is_periodic else MIN_RUN)
        has_runs |= self._n_at >= MANY and not is_periodic
        if self._n_at < MIN_CLIPPED or not has_runs or not is_crowded:
            return None
        return Clipping(self._n_at, self._n_runs, self._longest, tuple(self._starts))

    def _is_spike(self) -> bool:
        """Whether more stand at the extreme than the thinning bins below lead to expect."""
        next_below = int(self._bins[1])
        half = N_BINS // 2
        is_thinning = self._bins[1 : half + 1].sum() < self._bins[half + 1 :].sum()
        by_chance = next_below + SPIKE_SPREADS * float(np.sqrt(next_below + 1))
        return bool(is_thinning and self._n_at > max(SPIKE * next_below, by_chance))


def both(upper: Clipping | None, lower: Clipping | None) -> Clipping:
    """Both ends of the range together."""
    ends = [end for end in (upper, lower) if end is not None]
    return Clipping(
        sum(end.n_samples for end in ends),
        sum(end.n_runs for end in ends),
        max((end.longest_samples for end in ends), default=0),
        tuple(sorted(start for end in ends for start in end.starts)[:N_TIMES]),
    )
