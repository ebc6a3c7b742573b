"""Stretches in which a channel stands still: lost buffers filled with zeros, or a stuck value."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy.signals.waveform import Samples

STILL_S = 0.02
"""A value held for so long is no sound, unless the level is next to nothing."""
MIN_STILL_SAMPLES = 64
WITNESSES = 8
"""Equal neighbours that a long stretch shows wherever one looks into it."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Samples from `start` up to, not including, `end`, all of one value."""

    start: int
    end: int
    value: float
    jump: float = math.inf
    """Larger of the steps into it and out of it, as far as they are known."""

    @property
    def n_samples(self) -> int:
        """Length."""
        return self.end - self.start


class StillStretches:
    """Collects them over the blocks of one channel."""

    def __init__(self, sample_rate_hz: int, *, step: float = 0.0) -> None:
        """Nothing was seen yet.

        Args:
            sample_rate_hz: of the sound.
            step: distance of neighbouring values; 0 for floats.
        """
        self._step = step
        self._n_min = max(round(STILL_S * sample_rate_hz), MIN_STILL_SAMPLES)
        self._stride = max((self._n_min - WITNESSES) // 2, 1)
        self._carried = np.empty(0)
        self._found: list[Stretch] = []

    def add(self, samples: Samples, start: int) -> None:
        """Take in a block; the end of the one before is kept, so that no stretch is cut."""
        joined = np.concatenate((self._carried, samples))
        start -= self._carried.size
        self._carried = joined[-self._n_min :]
        if self._may_stand_still(joined):
            for stretch in _runs(joined, start, self._n_min):
                self._append(stretch)

    @property
    def found(self) -> tuple[Stretch, ...]:
        """In order of time; not those that a faint sound rounded to words makes of itself.

        Sound that fades below a step comes and goes by single steps; a lost buffer jumps. Where
        it does so once, other stretches of that value are no evidence either.
        """
        faint = {one.value for one in self._found if 0.0 < one.jump <= 1.01 * self._step}
        return tuple(one for one in self._found if one.value not in faint)

    def _may_stand_still(self, samples: Samples) -> bool:
        """Quick: any long stretch covers one of these places with the neighbours behind it."""
        places = np.arange(0, samples.size - WITNESSES, self._stride)
        if places.size == 0:
            return True
        still = np.ones(places.size, bool)
        for behind in range(1, WITNESSES):
            still &= samples[places] == samples[places + behind]
        return bool(still.any())

    def _append(self, stretch: Stretch) -> None:
        if self._found and stretch.start <= self._found[-1].end:
            last = self._found.pop()
            if last.value == stretch.value:
                jumps = [one.jump for one in (last, stretch) if math.isfinite(one.jump)]
                stretch = Stretch(
                    last.start,
                    max(last.end, stretch.end),
                    last.value,
                    max(jumps, default=math.inf),
                )
            else:
                self._found.append(last)
        self._found.append(stretch)


def _runs(samples: Samples, start: int, n_min: int) -> list[Stretch]:
    changes = np.flatnonzero(samples[1:] != samples[:-1]) + 1
    edges = np.concatenate(([0], changes, [samples.size]))
    long = np.flatnonzero(np.diff(edges) >= n_min)
    return [
        Stretch(
            start + int(edges[i]),
            start + int(edges[i + 1]),
            float(samples[edges[i]]),
            _jump(samples, int(edges[i]), int(edges[i + 1])),
        )
        for i in long
    ]


def _jump(samples: Samples, start: int, end: int) -> float:
    """Into and out of a stretch, as far as the samples beside it are at hand."""
    beside = [samples[at] for at in (start - 1, end) if 0 <= at < samples.size]
    return max((abs(float(value - samples[start])) for value in beside), default=math.inf)
