"""The recording cut into the pieces of the test sequence, on its own clock."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_sequence import SEQUENCE_HZ, Piece, Place, sequence

SPOILED_S = 0.06
"""So far around a lost or repeated buffer nothing is measured."""


@dataclass(frozen=True, slots=True)
class Below:
    """Nothing was found; it would have been seen above this limit."""

    limit: float


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """A recording beside the sequence, sample by sample."""

    samples: Samples
    """(n_samples,) of the sequence."""
    spoiled_s: tuple[float, ...]
    """Times at which sound was lost or repeated, from the sequence's beginning."""

    def rounds(self, piece: Piece) -> list[Place]:
        """The places of a piece, without those that are spoiled unless all are."""
        places = sequence().all_of(piece)
        whole = [place for place in places if self.is_whole(place.start, place.end)]
        return whole or places

    def is_whole(self, start: int, end: int) -> bool:
        """Whether nothing was lost or repeated from a sample to another."""
        around = SPOILED_S * SEQUENCE_HZ
        return not any(
            start - around < at_s * SEQUENCE_HZ < end + around for at_s in self.spoiled_s
        )

    def cut(self, place: Place, start: int = 0, end: int | None = None) -> Samples:
        """Samples of a piece, from and to places counted from its beginning."""
        end = place.n_samples if end is None else end
        return self.samples[place.start + start : place.start + end]


def amplitudes_db(amplitudes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ratios of amplitudes in dB, any shape; -inf for 0."""
    return units.dbfs_from_powers(np.square(amplitudes) * units.FULL_SCALE_SINE_POWER)
