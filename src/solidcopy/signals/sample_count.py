"""Facts of the samples of a sound file, counted while they pass: any length, flat memory."""

import hashlib
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Word = Literal["float32", "int16"]
"""How one sample lies in the file: little-endian, full scale ±1.0 or ±32768."""

FULL_SCALE_16 = 32768.0


@dataclass(frozen=True, slots=True)
class SampleFacts:
    """What anyone can count in a file without us."""

    n_samples: int
    sha256: str
    """Of the bytes of all samples as they lie in the data chunk, hexadecimal."""
    mean_power: float
    """Mean square, full scale ±1.0."""
    peak: float
    """Largest magnitude, full scale 1.0."""
    n_at_full_scale: int
    """Samples at or beyond the ends of the scale."""


class SampleCounter:
    """Counts the samples of one channel, piece by piece."""

    def __init__(self, word: Word) -> None:
        self._word: Word = word
        self._hash = hashlib.sha256()
        self._n_samples = 0
        self._sum_of_squares = 0.0
        self._peak = 0.0
        self._n_at_full_scale = 0

    def add(self, values: NDArray[Any]) -> None:
        """The next (n,) samples, of the dtype that the word names."""
        if values.dtype != np.dtype(self._word):
            raise TypeError(f"samples must be {self._word}, not {values.dtype}")
        self._hash.update(values.astype(values.dtype.newbyteorder("<"), copy=False).tobytes())
        if values.size == 0:
            return
        scale = FULL_SCALE_16 if self._word == "int16" else 1.0
        low, high = float(values.min()), float(values.max())
        top = 32767.0 if self._word == "int16" else 1.0
        self._n_samples += values.size
        self._sum_of_squares += float(np.square(values, dtype=np.float64).sum()) / scale**2
        self._peak = max(self._peak, high / scale, -low / scale)
        if high >= top or low <= -scale:
            self._n_at_full_scale += int(np.count_nonzero((values >= top) | (values <= -scale)))

    @property
    def facts(self) -> SampleFacts:
        """Of what has been added so far."""
        return SampleFacts(
            self._n_samples,
            self._hash.hexdigest(),
            self._sum_of_squares / max(self._n_samples, 1),
            self._peak,
            self._n_at_full_scale,
        )


def rounded_to_16_bits(samples: NDArray[np.floating[Any]]) -> NDArray[np.int16]:
    """To the nearest step of 1/32768; +1.0 itself lies one step too high and is held.

    Samples beyond full scale are the caller's to refuse.
    """
    scaled = np.rint(samples.astype(np.float64) * FULL_SCALE_16)
    return np.clip(scaled, -FULL_SCALE_16, FULL_SCALE_16 - 1.0).astype(np.int16)
