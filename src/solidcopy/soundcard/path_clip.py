"""Flat tops: samples of a recording that stand at its own highest or lowest value."""

from dataclasses import dataclass

import numpy as np

from solidcopy.noise.health.flat_tops import FlatTop, both
from solidcopy.signals.waveform import Samples


@dataclass(frozen=True, slots=True)
class FlatTops:
    """Clipped samples of a recording."""

    n_samples: int
    longest_samples: int
    level: float
    """Where they are cut off, full scale 1."""


WORD_BITS = (8, 16)


def find_flat_tops(heard: Samples, word_step: float) -> FlatTops | None:
    """Look at both ends of the range, see noise.health.flat_tops.

    Args:
        heard: (n_samples,) at the rate at which it was recorded.
        word_step: distance of neighbouring values of its words; 0 for floats.
    """
    ends = []
    for samples in (heard, -heard):
        highest = float(samples.max())
        top = FlatTop(word_step, 1)
        top.add(samples, 0, highest)
        ends.append((top.clipping(is_periodic=True), highest))
    found = both(ends[0][0], ends[1][0])
    if found.n_samples == 0:
        return None
    level = max(highest for clipping, highest in ends if clipping is not None)
    return FlatTops(found.n_samples, found.longest_samples, level)


def word_bits(heard: Samples) -> int | None:
    """8 or 16 if all samples are whole steps of so many bits, full scale 1; else None."""
    for n_bits in WORD_BITS:
        words = heard * 2.0 ** (n_bits - 1)
        if np.array_equal(words, np.rint(words)):
            return n_bits
    return None
