"""What a sound file is, before a sample of it is looked at."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from solidcopy.signals.sound_file.findings import Finding
from solidcopy.signals.sound_file.start_time import StartTime

Frames = NDArray[np.float64]
"""(n_channels, n_samples), full scale ±1.0."""


@dataclass(frozen=True, slots=True)
class SoundFacts:
    """Of an opened file."""

    container: str
    """For example "WAV"."""
    encoding: str
    """For example "24-bit"."""
    sample_rate_hz: int
    n_channels: int
    n_samples: int
    """Of each channel, by what is there."""
    step: float | None
    """Distance of neighbouring values by the word length; None for floats and the like."""
    coarsest_step: float
    """The same, at its largest; 0 for floats and the like."""
    is_float: bool
    is_lossy: bool
    starts: StartTime | None
    n_pieces: int
    """Pieces of sound in the file (data chunks); more than one is read only on request."""
    findings: tuple[Finding, ...]

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.n_samples / self.sample_rate_hz


class SoundSource(Protocol):
    """An opened file."""

    @property
    def facts(self) -> SoundFacts:
        """What it is."""
        ...

    def read(self, start: int, n_samples: int) -> Frames:
        """Samples from a place on; fewer at the end.

        Returns: (n_channels, up to n_samples) float64, full scale ±1.0.
        Raises: AudioFileError if the file cannot be read there.
        """
        ...

    def close(self) -> None:
        """Give the file back."""
        ...
