"""Buffers that came twice: sound that follows itself sample by sample.

A fingerprint of 16 samples is taken at every place; places whose fingerprint begins with enough
zero bits are remembered for a second, so that a copy picks the same places as its original.
Derived here (content-defined sampling of a polynomial hash, textbook).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.signals.waveform import Samples

MAX_LAG_S = 1.0
"""Longest buffer whose repetition is found."""
N_PRINT = 16
KEPT_BITS = 6
"""One place in 2**6 is remembered."""
MIX = np.uint64(0x9E3779B97F4A7C15)
"""An odd number whose bits are well spread (2**64 over the golden section)."""
MIN_REPEAT_SAMPLES = 256
MAX_SHORT_PERIOD = 1024
"""Of so many noise-like places some bear a mark, but for one case in ten million."""
WHOLE = 0.9
"""A repeat is at least this share of the distance between copy and original."""
PERIODIC_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Repeat:
    """Samples from `start` up to, not including, `end` equal those `lag` samples before."""

    start: int
    end: int
    lag: int


class Repeats:
    """Collects them over the blocks of one channel."""

    def __init__(self, sample_rate_hz: int) -> None:
        """Nothing was seen yet."""
        self._max_lag = round(MAX_LAG_S * sample_rate_hz)
        self._history = np.empty(0)
        self._prints = np.empty(0, np.uint64)
        self._places = np.empty(0, np.int64)
        self._end = 0
        self._found: list[Repeat] = []

    def add(self, samples: Samples) -> None:
        """Take in the next block."""
        overlap = self._history[-(N_PRINT - 1) :]
        window = np.concatenate((overlap, samples))
        first = self._end - overlap.size
        self._history = np.concatenate((self._history[-2 * self._max_lag :], samples))
        self._end += samples.size
        if window.size < N_PRINT:
            return
        prints = fingerprints(window)
        kept = np.flatnonzero(prints >> np.uint64(64 - KEPT_BITS) == 0)
        if kept.size == 0:  # a sound of a short period may have no place of that kind
            kept = np.flatnonzero(prints[:MAX_SHORT_PERIOD] == prints[0])
        kept = kept[~_is_constant(window, kept)]
        recent = self._places >= first - self._max_lag
        self._prints = np.concatenate((self._prints[recent], prints[kept]))
        self._places = np.concatenate((self._places[recent], kept + first))
        self._compare(first)

    def _compare(self, first_new: int) -> None:
        """Follow every new place whose fingerprint was seen within the last second."""
        order = np.lexsort((self._places, self._prints))
        same = self._prints[order[1:]] == self._prints[order[:-1]]
        later, earlier = self._places[order[1:]][same], self._places[order[:-1]][same]
        for place, before in sorted(zip(later.tolist(), earlier.tolist(), strict=True)):
            lag = place - before
            if place < first_new or lag > self._max_lag or self._is_covered(place, lag):
                continue
            repeat = self._followed(place, lag)
            if repeat.end - repeat.start >= N_PRINT:
                self._append(repeat)

    def _is_covered(self, place: int, lag: int) -> bool:
        return any(
            repeat.lag == lag and repeat.start <= place < repeat.end - N_PRINT
            for repeat in self._found[-3:]
        )

    def _followed(self, place: int, lag: int) -> Repeat:
        """How far the equality reaches, as far as the sound is still at hand."""
        first = self._end - self._history.size
        at = place - first
        equal = self._history[lag:] == self._history[:-lag]  # equal[i]: sample i + lag repeats i
        ahead = np.flatnonzero(~equal[at - lag :])
        behind = np.flatnonzero(~equal[: at - lag][::-1])
        n_ahead = int(ahead[0]) if ahead.size else equal.size - (at - lag)
        n_behind = int(behind[0]) if behind.size else at - lag
        return Repeat(place - n_behind, place + n_ahead, lag)

    def _append(self, repeat: Repeat) -> None:
        if self._found:
            last = self._found[-1]
            if last.lag == repeat.lag and repeat.start <= last.end:
                self._found[-1] = Repeat(last.start, max(last.end, repeat.end), last.lag)
                return
            if last.end - last.start < MIN_REPEAT_SAMPLES and last.end < self._end:
                self._found.pop()  # a chance likeness
        self._found.append(repeat)

    @property
    def is_periodic(self) -> bool:
        """Whether so much is repeated that it is a made sound, not one with faults."""
        n_repeated = sum(repeat.end - repeat.start for repeat in self.found)
        return n_repeated > PERIODIC_SHARE * self._end

    @property
    def found(self) -> tuple[Repeat, ...]:
        """Copies as long as their distance from the original."""
        return tuple(
            repeat
            for repeat in self._found
            if repeat.end - repeat.start >= max(MIN_REPEAT_SAMPLES, WHOLE * repeat.lag)
        )


def fingerprints(samples: Samples) -> NDArray[np.uint64]:
    """Of every 16 neighbouring samples: (n,) in, (n - 15,) out."""
    bits = samples.view(np.uint64)
    prints = (bits ^ (bits >> np.uint64(29))) * MIX
    factor, width = MIX, 1
    with np.errstate(over="ignore"):
        while width < N_PRINT:
            prints = prints[:-width] * factor + prints[width:]
            factor, width = factor * factor, 2 * width
    return prints


def _is_constant(samples: Samples, places: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether nothing but one value stands at these places: silence repeats itself."""
    constant = np.ones(places.size, bool)
    for behind in range(1, N_PRINT):
        constant &= samples[places] == samples[places + behind]
    return constant
